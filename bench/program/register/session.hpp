// Session: what the commands of the register share: where register and keys are, who works, what time it is,
// and how an answer is shown.
#pragma once

#include <filesystem>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "bench/program/common_options.hpp"
#include "bench/program/register/passphrase.hpp"
#include "report/register/register.hpp"

namespace tipwright::program {

struct Session {
    std::string location;              // folder or PostgreSQL connection string; empty: the user's own folder
    std::string person;                // who works
    PassphraseSource passphrase = {};  // theirs, where the register knows one
};

// TIPWRIGHT_TRIAL_NOW sets the time of a trial ("2031-05-04T10:11:12Z"); empty: the machine's clock counts.
// On a trial's time only certificates that say they are invented are issued.
std::string trial_time();
// Fault: bad_value (TIPWRIGHT_TRIAL_NOW is not a time).
Result<std::string> desk_time();
std::string today(const std::string& now);

// <data folder of the user>/tipwright/<name>.
std::filesystem::path data_folder(const std::string& name);

// Fault: not_permitted (a password in the connection string), those of Register::open.
Result<report::Register> open_register(const Session& session, bool create = false);
// Nothing of its database is changed: for whoever verifies it.
Result<report::Register> open_register_to_read(const Session& session);
// There is none: a name that could be a file's or a serial number's is then no serial number.
inline bool is_no_register(const Fault& fault) {
    return fault.code == FaultCode::missing_field || fault.code == FaultCode::file_missing;
}
// `none`, what is said of such a name, with where the register was looked for: one that was named is missing,
// or there is none of one's own.
Fault without_register(Fault none, const Session& session, const Fault& missing);
// Fault: usage (nobody is named).
Result<report::Actor> actor_of(const Session& session);
// The same, logged in when the register knows a passphrase of them. Fault: those of read_passphrase() and of
// Register::log_in().
Result<report::Actor> logged_in(report::Register& reg, const Session& session);

// One fact of an answer, for machines.
using Fact = std::pair<std::string, std::variant<std::int64_t, std::string>>;
// A sentence for people, or {"ok": true, facts...}.
ExitCode say(const CommonOptions& common, const std::string& sentence, const std::vector<Fact>& facts = {});
// A table on the terminal or as JSON; besides as a CSV file where one is named.
ExitCode show(const CommonOptions& common, const Result<report::Table>& table,
              const std::filesystem::path& csv = {});
// As fail(), with the exit code that fits the fault.
ExitCode refuse(const CommonOptions& common, const Fault& fault);
ExitCode desk_exit_code(const Fault& fault);

}  // namespace tipwright::program
