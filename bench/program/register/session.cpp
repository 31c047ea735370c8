#include "bench/program/register/session.hpp"

#include <unistd.h>

#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/environment.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/shown.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"
#include "report/register/connection.hpp"
#include "report/register/narrow_table.hpp"

namespace tipwright::program {

std::string trial_time() {
    return environment("TIPWRIGHT_TRIAL_NOW");
}

Result<std::string> desk_time() {
    const std::string trial = trial_time();
    if (trial.empty()) return utc_now();
    if (!later(trial, 0))
        return Fault{FaultCode::bad_value, in_quotes(trial) + " is not a time", "TIPWRIGHT_TRIAL_NOW",
                     "write it as 2031-05-04T10:11:12Z, or leave it unset"};
    return trial;
}

std::string today(const std::string& now) {
    return now.substr(0, 10);
}

std::filesystem::path data_folder(const std::string& name) {
    return own_folder("XDG_DATA_HOME", ".local/share") / name;
}

namespace {

std::string place_of(const Session& session) {
    return session.location.empty() ? data_folder("register").string() : session.location;
}

Outcome hides_its_secrets(const std::string& location) {
    if (!report::is_postgresql(location)) return Done{};
    const auto connection = report::read_connection(location);
    if (!connection) return connection.fault();
    if (!connection->secrets.empty())
        return Fault{FaultCode::not_permitted, "the connection string holds a password, which others can see",
                     "--register", "put it into ~/.pgpass, a service file or PGPASSWORD instead"};
    return Done{};
}

}  // namespace

Result<report::Register> open_register(const Session& session, bool create) {
    const auto now = desk_time();
    if (!now) return now.fault();
    const std::string location = place_of(session);
    if (const Outcome fit = hides_its_secrets(location); !fit) return fit.fault();
    auto out = report::Register::open(location, *now, create);
    if (!out && out.fault().code == FaultCode::file_missing && !create)
        out.fault().remedy = "make one with 'tipwright register create', or name another with --register";
    return out;
}

Result<report::Register> open_register_to_read(const Session& session) {
    const auto now = desk_time();
    if (!now) return now.fault();
    const std::string location = place_of(session);
    if (const Outcome fit = hides_its_secrets(location); !fit) return fit.fault();
    return report::Register::open_to_read(location, *now);
}

Fault without_register(Fault none, const Session& session, const Fault& missing) {
    const std::string place = place_of(session);
    if (!session.location.empty()) {  // it was said where: that there is none is the fault
        none.what = "there is no register, and " + none.what;
        none.where = place;
        none.remedy = missing.remedy;
    } else {
        none.what += "; there is no register in " + place;
    }
    return none;
}

Result<report::Actor> actor_of(const Session& session) {
    const auto now = desk_time();
    if (!now) return now.fault();
    if (session.person.empty())
        return Fault{FaultCode::usage, "the person who does this is not named", "--person",
                     "give --person NAME or set TIPWRIGHT_PERSON"};
    return report::Actor{session.person, *now};
}

Result<report::Actor> logged_in(report::Register& reg, const Session& session) {
    auto actor = actor_of(session);
    if (!actor) return actor;
    const auto person = reg.person(actor->person);
    // Whoever the register does not know is told so by what they want to do.
    if (!person && person.fault().code != FaultCode::unknown_field) return person.fault();
    if (!person || person->passphrase == report::PassphraseState::none) return actor;
    const auto passphrase = read_passphrase(session.passphrase, "Passphrase of " + person->name);
    if (!passphrase) return passphrase.fault();
    return reg.log_in(person->name, actor->now, *passphrase);
}

ExitCode say(const CommonOptions& common, const std::string& sentence, const std::vector<Fact>& facts) {
    if (!common.json) {
        print_lines(stdout, sentence);
        return ExitCode::done;
    }
    nlohmann::ordered_json document = {{"ok", true}};
    for (const auto& [name, value] : facts)
        std::visit([&, key = name](const auto& content) { document[key] = content; }, value);
    print_json(document);
    return ExitCode::done;
}

namespace {

// Moments as a person wants them shown; dates are days and stay.
report::Table in_shown_zone(report::Table table) {
    for (auto& row : table.rows)
        for (auto& value : row)
            if (auto* text = std::get_if<std::string>(&value)) *text = shown_moment(*text);
    return table;
}

}  // namespace

ExitCode show(const CommonOptions& common, const Result<report::Table>& table,
              const std::filesystem::path& csv) {
    if (!table) return refuse(common, table.fault());
    if (!csv.empty())
        if (auto written = write_file(csv, report::as_csv(*table)); !written)
            return refuse(common, written.fault());
    if (common.json)
        print_json_text(report::as_json(*table));
    else
        // To a terminal a row stays within its columns; what goes elsewhere is a line a row.
        print_lines(stdout, ::isatty(STDOUT_FILENO) != 0
                                ? report::as_text_within(in_shown_zone(*table), line_width(STDOUT_FILENO))
                                : report::as_text(in_shown_zone(*table)));
    return ExitCode::done;
}

ExitCode desk_exit_code(const Fault& fault) {
    switch (fault.code) {
        case FaultCode::not_permitted:
        case FaultCode::wrong_passphrase:
        case FaultCode::database_unreachable:
        case FaultCode::damaged:
        case FaultCode::disk_full:
            return ExitCode::refused;
        case FaultCode::interrupted:
            return ExitCode::interrupted;
        default:
            return ExitCode::bad_input;
    }
}

ExitCode refuse(const CommonOptions& common, const Fault& fault) {
    return fail(common, fault, desk_exit_code(fault));
}

}  // namespace tipwright::program
