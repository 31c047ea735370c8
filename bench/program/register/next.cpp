// tipwright next SERIAL: which command is the next one for a gauge, and why: from its runs in the work folder
// and from what the register knows of its orders, drafts and certificates.
#include <algorithm>
#include <optional>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/keys.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/run/lane_run.hpp"
#include "bench/program/run/work_folder.hpp"
#include "bench/program/settings/settings.hpp"

namespace tipwright::program {

namespace {

struct NextOptions {
    Session session;
    std::string serial;
    std::filesystem::path work = "work";
};

struct Advice {
    std::string why;
    std::string command;  // empty: nothing is to be done
};

// Of the last certificate of a gauge that is on its way or was issued. Columns as Register::list_certificates
// gives them.
struct LastCertificate {
    std::string number;
    std::string state;
    std::string calibrated_on;
    std::int64_t draft = 0;
};

std::optional<LastCertificate> last_certificate(const report::Table& table) {
    std::optional<LastCertificate> out;
    for (const auto& row : table.rows) {
        const std::string state = report::text_of(row[2]);
        if (state == "discarded") continue;
        out = LastCertificate{report::text_of(row[0]), state, report::text_of(row[4]),
                              std::get<std::int64_t>(row[1])};
    }
    return out;
}

// In words of a command line.
std::string word(const std::string& text) {
    const bool plain = !text.empty() && std::all_of(text.begin(), text.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
               c == '.' || c == '_' || c == '/';
    });
    if (plain) return text;
    std::string out = "'";
    for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
    return out + "'";
}

// What a command must be told of the work folder: nothing of the one that it takes by itself.
std::string where_runs_are(const NextOptions& options) {
    const auto settings = Settings::load();
    const std::string usual = settings ? settings->value_or("work", "work") : "work";
    return options.work == usual ? "" : " --work " + word(options.work.string());
}

std::string setting(const char* key) {
    const auto settings = Settings::load();
    return settings ? settings->value_or(key, "") : "";
}

// What calibrate must be told besides the serial.
std::string bench_and_plan(bool as_left) {
    std::string out;
    if (setting("bench").empty()) out += " --bench FILE";
    if (setting(as_left ? "plan_as_left" : "plan_as_found").empty()) out += " --plan FILE";
    return out;
}

// " --person NAME" where who usually works may not do it: somebody who may, and is not `but`. Nothing: nobody
// may.
Result<std::optional<std::string>> by_whom(report::Register& reg, bool report::Person::*may,
                                           const std::string& but = "") {
    const auto people = reg.people();
    if (!people) return people.fault();
    std::optional<std::string> other;
    const std::string usual = setting("person");
    for (const report::Person& person : *people) {
        if (!person.active || !(person.*may) || person.name == but) continue;
        if (person.name == usual) return std::optional<std::string>("");
        if (!other) other = " --person " + word(person.name);
    }
    return other;
}

// Where nobody has the right that it takes, to give it comes first.
Result<Advice> done_by(report::Register& reg, const Advice& advice, bool report::Person::*may,
                       const char* right, const std::string& but = "") {
    const auto who = by_whom(reg, may, but);
    if (!who) return who.fault();
    if (*who) return Advice{advice.why, advice.command + **who};
    return Advice{advice.why + ", and the register knows nobody else who may",
                  std::string("tipwright register person add NAME --may-") + right + " true"};
}

// A description that says this serial: beside us as calibrate takes it, or a template.
std::string description_of(const CommonOptions& common, const std::string& serial) {
    std::error_code ignored;
    if (std::filesystem::is_regular_file(serial + ".toml", ignored)) return word(serial + ".toml");
    for (std::filesystem::directory_iterator one(common.templates / "gauges", ignored), end;
         !ignored && one != end; one.increment(ignored)) {
        const auto gauge = bench::load_gauge(one->path().string(), common.templates);
        if (gauge && gauge->serial == serial) return word(one->path().stem().string());
    }
    return "";
}

Advice to_be_entered(const CommonOptions& common, const std::string& serial) {
    const std::string from = description_of(common, serial);
    return {from.empty() ? "the register does not know it (FILE: its description, made from one that "
                           "'tipwright list' shows)"
                         : "the register does not know it",
            "tipwright register gauge add " + word(serial) + " --from " + (from.empty() ? "FILE" : from)};
}

// What the runs say, where no certificate covers them yet.
Result<Advice> of_runs(const NextOptions& options, report::Register& reg, const std::vector<KeptRun>& runs) {
    const std::string serial = word(options.serial) + where_runs_are(options);
    if (runs.empty())
        return Advice{
            "it has not been measured yet: no run of it is known in " + in_quotes(options.work.string()),
            "tipwright calibrate " + serial + bench_and_plan(false)};
    if (!runs.back().complete && runs.back().measured) {
        const std::string folder = word(runs.back().folder.string());
        return Advice{
            "its last run is complete, but its results are missing",
            "tipwright evaluate " + word((runs.back().folder / journal_name).string()) + " --out " + folder};
    }
    if (!runs.back().complete) return Advice{"its last run is unfinished", "tipwright recover " + serial};
    const Round round = newest_round(runs);
    const std::filesystem::path last = round.left.empty() ? round.found : round.left;
    const auto record = read_record(last / "record.json");
    if (!record) return record.fault();
    const calib::Verdict verdict = record->evaluation.conformity.overall;
    const bool passed = verdict != calib::Verdict::fail && verdict != calib::Verdict::undecided;
    if (round.left.empty() && !passed)
        return Advice{"as found it does not meet its limits beyond doubt",
                      "tipwright adjust " + serial + ", turn the screws, then tipwright calibrate " + serial +
                          " --as-left" + bench_and_plan(true)};
    if (!passed)
        return Advice{
            "as left it does not meet its limits beyond doubt: adjust again, or certify it as it is",
            "tipwright adjust " + serial + " --left " + word(options.serial)};
    return done_by(reg,
                   {round.left.empty() ? "it was measured as found" : "it was measured as found and as left",
                    "tipwright certificate draft " + serial},
                   &report::Person::may_measure, "measure");
}

Result<Advice> advise(const CommonOptions& common, const NextOptions& options, report::Register& reg) {
    const std::string serial = word(options.serial);
    const std::vector<KeptRun> runs = kept_runs(options.work, options.serial);
    const auto gauges = reg.gauges_with_serial(options.serial);
    if (!gauges) return gauges.fault();
    if (gauges->empty() && runs.empty())
        return done_by(reg, to_be_entered(common, options.serial), &report::Person::may_measure, "measure");
    report::ListFilter of_this;
    of_this.serial = options.serial;
    std::optional<LastCertificate> certificate;
    if (!gauges->empty()) {
        const auto table = reg.list_certificates(of_this);
        if (!table) return table.fault();
        certificate = last_certificate(*table);
    }
    const std::string id = certificate ? std::to_string(certificate->draft) : "";
    if (certificate && certificate->state == "draft") {
        const auto draft = reg.certificate(certificate->draft);
        if (!draft) return draft.fault();
        return done_by(
            reg,
            {"draft " + id + " waits for a second person to check it", "tipwright certificate check " + id},
            &report::Person::may_check, "check", draft->drafted_by);
    }
    if (certificate && certificate->state == "checked" && !keys_are_there(setting("keys")))
        return Advice{"draft " + id + " was checked, but there are no keys of the seal yet",
                      "tipwright keys make"};
    if (certificate && certificate->state == "checked")
        return done_by(reg, {"draft " + id + " was checked", "tipwright certificate issue " + id},
                       &report::Person::may_issue, "issue");
    const bool newer_run = !runs.empty() && (!certificate || runs.back().day > certificate->calibrated_on);
    if (certificate && !newer_run) {
        if (gauges->size() == 1) {
            const auto order = reg.open_order_of(gauges->front().id);
            if (!order) return order.fault();
            if (*order != 0)
                return done_by(reg,
                               {"certificate " + certificate->number + " is issued; its order is still open",
                                "tipwright register service close " + serial},
                               &report::Person::may_measure, "measure");
            const std::string& due = gauges->front().due_on;
            return Advice{"certificate " + certificate->number + " of " + certificate->calibrated_on +
                              " is issued" + (due.empty() ? "" : "; due again on " + due),
                          ""};
        }
        return Advice{"certificate " + certificate->number + " is issued", ""};
    }
    return of_runs(options, reg, runs);
}

ExitCode say_next(const CommonOptions& common, const NextOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto advice = advise(common, options, *reg);
    if (!advice) return refuse(common, advice.fault());
    return say(
        common,
        "Gauge " + visible(options.serial) + ": " + visible(advice->why) + ".\n" +
            (advice->command.empty()
                 ? "Nothing left to do but hand it out: tipwright pack --serial " + word(options.serial) +
                       " --out " + word(options.serial + ".zip") + ", tipwright label " +
                       word(options.serial) + " --out " + word(options.serial + "-label.pdf")
                 : "Next: " + visible(advice->command)),
        {{"serial", options.serial}, {"why", advice->why}, {"next", advice->command}});
}

}  // namespace

void add_next(CommandLine& line) {
    auto next =
        add_verb(line, line.app, "next", "Say which command comes next for a gauge, and why", say_next);
    next.command.add_option("serial", next->serial, "Serial number of the gauge").required();
    add_session(next.command, next->session, false);
    add_work_folder(next.command, next->work);
}

}  // namespace tipwright::program
