#include "report/record/statement_of.hpp"

#include <algorithm>
#include <array>
#include <string_view>

#include "calib/base/joined.hpp"
#include "calib/base/rim.hpp"
#include "report/record/record_checks.hpp"

namespace tipwright::report {

namespace {

using calib::Trace;
using Roles = std::array<std::string_view, 2>;  // the second may be none

// Whose calibration each quantity rests on.
constexpr Roles of_mass{"balance"};
constexpr Roles of_volume{"volume measure"};
constexpr Roles of_time{"counter", "clock"};
constexpr Roles of_temperature{"climate", "thermometer"};
constexpr Roles of_length{"caliper"};

bool is_one_of(const Roles& roles, std::string_view role) {
    return !role.empty() && std::find(roles.begin(), roles.end(), role) != roles.end();
}

// The best that any instrument of these roles gives.
Trace trace_of(const Record& record, bool needed, const Roles& roles) {
    if (!needed) return Trace::not_needed;
    const std::string day = record.ended_at.substr(0, 10);
    Trace best = Trace::missing;
    for (const InstrumentUsed& used : record.instruments) {
        if (used.certificate.empty() || !is_one_of(roles, used.role)) continue;
        // ISO dates compare as text.
        if (used.due_on.empty() || day.empty() || used.due_on >= day) return Trace::named;
        best = Trace::overdue;
    }
    return best;
}

// A caliper's certificate says nothing of a rim that it did not measure.
bool is_rim_measured(const Record& record) {
    const std::string& method = record.identity.catch_diameter_method;
    return !method.empty() && method != calib::rim_as_supplied && !is_rim_nominal(record);
}

}  // namespace

bool is_rim_nominal(const Record& record) {
    return record.identity.catch_diameter_method.starts_with(calib::rim_not_measured);
}

calib::Traceability traceability_of(const Record& record) {
    const auto& steps = record.evaluation.steps;
    const auto some = [&](bool (*has)(const calib::StepResult&)) {
        return std::any_of(steps.begin(), steps.end(), has);
    };
    const bool weighed = some([](const calib::StepResult& step) { return !step.observation.is_volume; });
    const bool measured = some([](const calib::StepResult& step) { return step.observation.is_volume; });
    const bool timed =
        some([](const calib::StepResult& step) { return step.observation.duration_s.has_value(); });
    calib::Traceability out;
    out.mass = trace_of(record, weighed, of_mass);
    out.volume = trace_of(record, measured, of_volume);
    out.time = trace_of(record, timed, of_time);
    out.temperature = trace_of(record, weighed, of_temperature);
    out.length = is_rim_measured(record) ? trace_of(record, true, of_length) : Trace::missing;
    out.any_certificate = std::any_of(record.instruments.begin(), record.instruments.end(),
                                      [](const InstrumentUsed& used) { return !used.certificate.empty(); });
    return out;
}

std::string traceability_said(const InstrumentUsed& used) {
    if (!used.certificate.empty()) return used.traceability;
    for (const Roles& roles : {of_mass, of_volume, of_time, of_temperature, of_length})
        if (is_one_of(roles, used.role)) return {};
    return used.traceability;
}

calib::Statement statement_of(const Record& record) {
    calib::Grounds grounds;
    grounds.complete = record.completeness == Completeness::complete;
    grounds.supplied = record.origin == Origin::supplied_data;
    grounds.traceability = traceability_of(record);
    grounds.run_findings = record.findings;
    return calib::statement_of(record.evaluation, record.gauge, grounds);
}

void state(Record& record) {
    record.statement = statement_of(record);
}

bool is_stated(const Record& record, int step) {
    const calib::StepStatement* stated = record.statement.of_step(step);
    return stated == nullptr || stated->result != calib::Claim::not_stated;
}

std::vector<calib::StepResult> stated_steps(const Record& record) {
    std::vector<calib::StepResult> out;
    for (const calib::StepResult& step : record.evaluation.steps)
        if (is_stated(record, step.observation.step)) out.push_back(step);
    return out;
}

std::vector<int> steps_not_stated(const Record& record) {
    std::vector<int> out;
    for (const calib::StepResult& step : record.evaluation.steps)
        if (!is_stated(record, step.observation.step)) out.push_back(step.observation.step);
    return out;
}

double planned_intensity_mm_h(const Record& record, int step) {
    const auto& planned = record.plan.steps;
    const bool known = step >= 1 && static_cast<std::size_t>(step) <= planned.size();
    return known ? planned[static_cast<std::size_t>(step) - 1].intensity_mm_h : 0;
}

std::string step_list(const std::vector<int>& steps) {
    std::string out;
    for (const int step : steps) add_part(out, std::to_string(step), ", ");
    return out;
}

Record as_stated(const Record& record) {
    Record out = record;
    const auto withheld = [&](int step) { return !is_stated(record, step); };
    std::erase_if(out.evaluation.steps, [&](const auto& step) { return withheld(step.observation.step); });
    std::erase_if(out.evaluation.conformity.steps, [&](const auto& row) { return withheld(row.step); });
    std::erase_if(out.evaluation.monte_carlo, [&](const auto& check) { return withheld(check.step); });
    return out;
}

std::vector<std::string> reservation_notes(const Record& record) {
    std::vector<std::string> out;
    for (const calib::Reservation& one : record.statement.reservations) {
        std::string text{name_of(one.id)};
        std::replace(text.begin(), text.end(), '_', ' ');
        out.push_back(one.step == 0 ? text : text + " at step " + std::to_string(one.step));
    }
    return out;
}

std::optional<Fault> check_statement(const Record& record) {
    const std::string where =
        "record " + visible(record.number) + ", gauge " + visible(record.identity.serial);
    const calib::Statement& statement = record.statement;
    if (auto fault = check_some_stated(record)) return fault;
    if (!statement.needs_acceptance() || (record.acceptance && !record.acceptance->reason.empty()))
        return std::nullopt;
    return Fault{
        FaultCode::not_permitted,
        "its results stand with reservation: " + joined(reservation_notes(record), ", "), where,
        "mend and calibrate anew, or accept it with --reason TEXT, which the certificate then prints"};
}

std::vector<calib::Finding> findings_of(const Record& record) {
    std::vector<calib::Finding> out = record.evaluation.findings;
    out.insert(out.end(), record.findings.begin(), record.findings.end());
    std::stable_sort(out.begin(), out.end(), [](const calib::Finding& a, const calib::Finding& b) {
        const auto place = [](const calib::Finding& one) { return one.step == 0 ? 1 << 30 : one.step; };
        return place(a) < place(b);
    });
    return out;
}

}  // namespace tipwright::report
