#include "bench/program/results/check_runs.hpp"

#include <algorithm>
#include <chrono>
#include <numeric>
#include <set>

#include "bench/program/register/session.hpp"
#include "bench/program/results/read_record.hpp"
#include "calib/base/dates.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/life_words.hpp"

namespace tipwright::program {

namespace {

constexpr int longest_pause_days = 366;

std::string balance_of(const report::Record& record) {
    for (const auto& instrument : record.instruments)
        if (instrument.role == "balance") return instrument.serial;
    return {};
}

struct Gathered {
    std::vector<report::Record> records;
    std::vector<std::string> benches;
    std::vector<std::string> names;
    std::vector<calib::ControlAction> actions;
};

// Columns of Register::life.

Outcome take(Gathered& out, report::Record record, const std::string& bench, const std::string& name) {
    if (record.completeness != report::Completeness::complete) return Done{};
    if (!out.records.empty()) {
        const report::Record& first = out.records.front();
        if (record.identity.serial != first.identity.serial)
            return Fault{FaultCode::inconsistent,
                         "is of gauge " + in_quotes(record.identity.serial) + ", the first of " +
                             in_quotes(first.identity.serial),
                         name, "give runs of one check gauge"};
        if (record.origin != first.origin)
            return Fault{FaultCode::inconsistent, "comes from another kind of bench than the first", name,
                         "give runs of real benches alone, or of virtual ones"};
    }
    out.records.push_back(std::move(record));
    out.benches.push_back(bench);
    out.names.push_back(name);
    return Done{};
}

// Records enter a register with a draft: those of all drafts and certificates that were not thrown away.
Outcome take_serial(Gathered& out, report::Register& reg, const std::string& serial) {
    report::ListFilter filter;
    filter.serial = serial;
    filter.limit = 100000;
    const auto list = reg.list_certificates(filter);
    if (!list) return list.fault();
    if (const auto life = reg.life(serial))
        for (const report::LifeEvent& event : *life)
            if (event.what == "finding") out.actions.push_back({event.on, report::life_detail(event)});
    std::set<report::Id> taken;
    for (const auto& row : list->rows) {
        const auto certificate = reg.certificate(std::get<std::int64_t>(row[1]));
        if (!certificate) return certificate.fault();
        if (certificate->state == report::CertificateState::discarded || !certificate->superseded_by.empty())
            continue;
        for (const report::Id id : {certificate->as_found, certificate->as_left}) {
            if (id == 0 || !taken.insert(id).second) continue;
            const std::string name = certificate->number.empty() ? "draft " + std::to_string(certificate->id)
                                                                 : certificate->number;
            auto record = kept_sound_record(reg, id, name);
            if (!record) return record.fault();
            const std::string bench = balance_of(*record);
            if (auto done = take(out, std::move(*record), bench, name); !done) return done;
        }
    }
    return Done{};
}

CheckRuns runs_of(Gathered gathered) {
    CheckRuns out;
    out.actions = std::move(gathered.actions);
    std::vector<std::size_t> order(gathered.records.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
        return gathered.records[a].ended_at < gathered.records[b].ended_at;
    });
    for (const std::size_t i : order) {
        report::Record& record = gathered.records[i];
        out.about.gauge = record.identity.kind_title + ", " + record.identity.serial;
        out.about.serial = record.identity.serial;
        out.about.laboratory = record.laboratory.name;
        out.about.origin = record.origin;
        out.about.invented = out.about.invented || record.invented;
        out.about.runs.push_back(gathered.names[i]);
        out.runs.push_back({gathered.names[i], record.ended_at, gathered.benches[i], record.operator_name,
                            report::stated_steps(record)});
    }
    return out;
}

}  // namespace

Result<CheckRuns> check_runs(const std::vector<std::string>& named, const Session& session) {
    Gathered gathered;
    for (const auto& one : named) {
        std::error_code ignored;
        if (std::filesystem::exists(one, ignored)) {
            auto record = read_sound_record(one);
            if (!record) return record.fault();
            const std::string bench = balance_of(*record);
            if (auto done = take(gathered, std::move(*record), bench, one); !done) return done.fault();
            continue;
        }
        const std::size_t before = gathered.records.size();
        const Fault none{FaultCode::file_missing,
                         in_quotes(one) + " is neither a file nor a serial number with a record",
                         "check gauge", "name records, or the register: --register"};
        auto reg = open_register(session);
        if (!reg)
            return is_no_register(reg.fault()) ? without_register(none, session, reg.fault()) : reg.fault();
        if (auto done = take_serial(gathered, *reg, one); !done) return done.fault();
        if (gathered.records.size() == before) return none;
    }
    return runs_of(std::move(gathered));
}

Result<report::LaboratoryReport> laboratory_report(CheckRuns given, const calib::ControlSettings& settings) {
    auto analysis = calib::analyse_check_gauge(given.runs, settings, std::move(given.actions));
    if (!analysis) return analysis.fault();
    report::LaboratoryReport out = std::move(given.about);
    out.settings = settings;
    out.analysis = std::move(*analysis);
    return out;
}

Result<calib::ControlAction> control_action(const std::string& text, const std::string& today) {
    const auto on = iso_date(std::string_view(text).substr(0, 10));
    const auto words = text.find_first_not_of(" :=", std::min<std::size_t>(10, text.size()));
    if (on && text.substr(0, 10) <= today && words != std::string::npos)
        return calib::ControlAction{text.substr(0, 10), text.substr(words)};
    return Fault{FaultCode::bad_value,
                 in_quotes(text) + " is not a date up to today followed by what was done", "--done",
                 "write it as \"2031-05-04 balance levelled again\""};
}

const char* name_of(ControlStanding standing) {
    switch (standing) {
        case ControlStanding::in_control:
            return "in_control";
        case ControlStanding::not_known:
            return "not_known";
        case ControlStanding::long_ago:
            return "long_ago";
        case ControlStanding::alarm:
            return "alarm";
        case ControlStanding::answered:
            return "answered";
    }
    return "not_known";
}

Result<ControlState> control_state(report::Register& reg, const std::string& serial, const std::string& now) {
    Gathered gathered;
    if (auto done = take_serial(gathered, reg, serial); !done) return done.fault();
    // Nothing was done tomorrow.
    std::erase_if(gathered.actions, [&](const auto& one) { return one.on > now.substr(0, 10); });
    const auto report = laboratory_report(runs_of(std::move(gathered)), {});
    if (!report) return ControlState{ControlStanding::not_known, "", report.fault()};
    const std::string last = report->analysis.moments.back().substr(0, 10);
    const auto then = iso_date(last);
    const auto today = iso_date(now.substr(0, 10));
    if (then && today &&
        std::chrono::sys_days(*today) - std::chrono::sys_days(*then) > std::chrono::days(longest_pause_days))
        return ControlState{ControlStanding::long_ago, visible(last), {}};
    const auto& alarm_at = report->analysis.alarm_at;
    if (!alarm_at) return ControlState{};
    return ControlState{report->analysis.answered ? ControlStanding::answered : ControlStanding::alarm,
                        visible(report->analysis.moments[*alarm_at].substr(0, 10)),
                        {}};
}

Outcome in_control(report::Register& reg, const std::string& serial, const std::string& now) {
    const auto state = control_state(reg, serial, now);
    if (!state) return state.fault();
    const std::string where = "check gauge " + visible(serial);
    switch (state->standing) {
        case ControlStanding::in_control:
            return Done{};
        case ControlStanding::not_known:
            return Fault{FaultCode::not_permitted, "not known to be in control: " + state->why->what, where,
                         state->why->remedy};
        case ControlStanding::long_ago:
            return Fault{
                FaultCode::not_permitted,
                "not known to be in control: it was last run on " + state->on + ", more than a year ago",
                where, "run the check gauge on this bench and draft its record, then issue"};
        case ControlStanding::answered:
            return Fault{FaultCode::not_permitted,
                         "out of control at its last run, of " + state->on +
                             "; what was done is stated, and no run has shown yet that it helped",
                         where, "run the check gauge again and draft its record"};
        case ControlStanding::alarm:
            break;
    }
    return Fault{FaultCode::not_permitted,
                 "out of control since its run of " + state->on + ", and nobody has stated what was done",
                 where,
                 "find the reason with 'tipwright laboratory control " + visible(serial) +
                     "', state what was done with 'tipwright register service finding " + visible(serial) +
                     "', then run the check gauge again"};
}

}  // namespace tipwright::program
