// Which numbers were given, noted beside the keys and signed with the key in use, so that an older backup of
// a register that comes back never gives a number twice. One small file for all registers that are sealed
// with these keys:
//   tipwright issued numbers 1
//   series BENCH YEAR LAST                 the last number given
//   log REGISTER SEQ HASH SEALS            where the log of a register stood when it was sealed last
//   begun REGISTER SEQ HASH BENCH YEAR FIRST LAST     an issue that may not have come to its end: from there;
//                                          its numbers count as given
//   at DATE                                the day it was signed on; before 1.1 it did not say
//   key ID
//   signature BASE64                       of all lines before
// It begins with the keys (numbers_beside_keys.hpp), so that a missing one is never ordinary. Private to
// report/register.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>

#include "report/register/audit.hpp"
#include "report/seal/file_lock.hpp"

namespace tipwright::report {

struct IssuedNumbers {
    struct Log {
        std::int64_t seq = 0;
        std::string hash;
        std::int64_t seals = 0;
    };
    struct Begun {
        std::string reg;
        std::int64_t seq = 0;
        std::string hash;
        std::string bench;
        std::int64_t year = 0, first = 0, last = 0;
    };
    std::map<std::pair<std::string, std::int64_t>, std::int64_t> last;  // by bench and year
    std::map<std::string, Log> logs;                                    // by register
    std::optional<Begun> begun;

    // Says so where less of a series is noted than a register knows; empty: it is not.
    std::string behind(const std::string& bench, std::int64_t year, std::int64_t known) const;

    // Throws Stop: damaged (not as it was signed), inconsistent (signed when that key did not count),
    // file_missing.
    static IssuedNumbers read(const std::string& path, const seal::PublicKeys& keys);
    void store(const std::string& path, const seal::SigningKey& key, const std::string& day) const;
};

// The laboratory's public keys in the folder of such a file. Throws Stop.
seal::PublicKeys keys_beside(const std::string& path);
// Notes where the log of this register stands, with its seals.
void note_log(Database& database, const AuditHead& head, IssuedNumbers& numbers);

// Other programs with the same keys wait for as long as this lives. Throws Stop.
class NumbersLock {
public:
    explicit NumbersLock(const std::string& path);

private:
    seal::FileLock lock_;
};

}  // namespace tipwright::report
