// Series of certificate numbers, one a bench and year; and the note beside the keys of what was
// given, held from before numbers are chosen until they are given (issued_numbers.hpp). Private to
// report/register; throws Stop.
#pragma once

#include <optional>
#include <string>

#include "report/register/impl.hpp"
#include "report/register/issued_numbers.hpp"

namespace tipwright::report {

struct Series {
    Id id = 0;
    std::string bench;
    std::int64_t year = 0;
    std::int64_t next = 1;
    bool is_new = false;
    // Given before, to certificates that this register does not know.
    std::int64_t left_out_first = 0, left_out_last = 0;
};

// Ours until the transaction ends (SQLite: the whole register is).
Series lock_series(Database& database, const std::string& bench, std::int64_t year);

// The last number that the register knows of a series, given or left out.
std::int64_t last_number(Database& database, const std::string& bench, std::int64_t year);

// Without a file for it, a note of nothing.
class NumbersNote {
public:
    NumbersNote(Database& database, const std::string& path, const seal::SigningKey& key, std::string day);

    // Moves the series on where more numbers were given than the register knows; says so.
    std::optional<std::string> move_on(Series& series) const;
    // What is missed before the log is sealed: an older backup or an older note came back. Throws Stop where
    // the log was changed. The log is locked.
    std::string missed(const Series& series) const;
    // Before the commit that gives the numbers up to `last`, and after it; or where it surely did not happen.
    void begin(const AuditHead& head, const Series& series, std::int64_t last);
    void end(const AuditHead& head);
    void withdraw();

private:
    void raise(const IssuedNumbers::Begun& begun);
    // An issue that was cut off may have given its numbers: they are not given again.
    void settle();

    Database& database_;
    std::string path_;
    const seal::SigningKey& key_;
    std::string day_;
    std::optional<NumbersLock> lock_;
    IssuedNumbers numbers_;
    std::optional<IssuedNumbers::Begun> cut_off_;  // this register does not hold its certificates
};

}  // namespace tipwright::report
