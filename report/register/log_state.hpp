// What holds of the log: the chain of its entries, the laboratory's seals under it, and what is noted beside
// the keys of where it stood. Walked by `register check`, and before anything is sealed: whoever seals a log
// vouches for it, and what only the seals and the note of before could tell would be told by nobody any more.
// Private to report/register.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "report/register/issued_numbers.hpp"

namespace tipwright::report {

using TellFault = std::function<void(Fault)>;

// Logged where an issue went on though something was missed of the log; told by every inspection since.
constexpr std::string_view missing_action = "miss";

class ChainWalk {
public:
    ChainWalk() = default;
    // Goes on after an entry that is vouched for.
    explicit ChainWalk(const AuditEntry& after);
    // Entries in their order, page by page; `each` is given every one.
    void walk(Database& database, const TellFault& tell,
              const std::function<void(const AuditEntry&)>& each = {});
    // The last entry that was logged together with a seal; 0: none.
    std::int64_t must_be_sealed() const { return must_be_sealed_; }
    std::int64_t entries() const { return entries_; }
    const std::string& head() const { return before_; }

private:
    void take(const AuditEntry& entry, const TellFault& tell);

    std::int64_t seq_ = 0;
    std::int64_t entries_ = 0;
    std::int64_t must_be_sealed_ = 0;
    std::string before_;
    std::string at_;
};

class SealWalk {
public:
    // From this seal on. Without keys only that none is missing between two.
    void walk(Database& database, const seal::PublicKeys* keys, Id from, std::int64_t must_be_sealed,
              const TellFault& tell);
    // Seals by a key that did not count then, and no later one stands for what they cover.
    const std::vector<std::pair<std::int64_t, Fault>>& out_of_time() const { return out_of_time_; }
    Id seals() const { return seals_; }
    std::int64_t sealed_entries() const { return sealed_entries_; }
    const std::string& sealed_at() const { return sealed_at_; }

private:
    Id seals_ = 0;
    std::int64_t sealed_entries_ = 0;
    std::string sealed_at_;
    std::vector<std::pair<std::int64_t, Fault>> out_of_time_;
};

// Whether the register still holds where its log stood when it was sealed last.
bool still_holds(Database& database, const IssuedNumbers::Log& noted);
std::string lacks(const IssuedNumbers::Log& noted);
// Of a register that was sealed up to an entry, and that the note beside the keys does not know.
std::string not_noted(std::int64_t sealed_entries);

struct LogState {
    std::optional<Fault> broken;       // changed past the program: what is sealed now would hide it
    std::optional<Fault> out_of_time;  // its last seal does not count: somebody looks what was logged since
    std::string lost;                  // whole in itself, but not what was sealed last: an older backup
    std::string unnoted;               // sealed before, and the note does not know it: an older note
};

// All of it, or what came since the note was made: that alone the next seal could make lawful, for a fault
// before it stays in the log, under seals that do not fit. Nobody may write meanwhile.
enum class LookAt { everything, since_noted };
LogState look_at_log(Database& database, const seal::PublicKeys& keys, const IssuedNumbers& numbers,
                     LookAt how_far);
// With the way out for a person.
[[noreturn]] void refuse_to_seal(const Fault& broken);

// What an entry says was accepted when the log was sealed, or missed; empty: nothing.
std::string accepted_in(const AuditEntry& entry);

}  // namespace tipwright::report
