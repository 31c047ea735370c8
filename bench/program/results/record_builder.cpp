#include "bench/program/results/record_builder.hpp"

#include <algorithm>

#include "bench/instruments/virtual_identity.hpp"
#include "bench/program/version.hpp"
#include "bench/run/water_guard.hpp"
#include "report/record/causes.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

namespace {

// The certificate says more of it, in its language, from plan and gauge.
constexpr const char* method_of_bench =
    "Steady flow through the gauge, discharge weighed continuously with flying start and finish "
    "(ISO 4185:1980).";

report::Concession concession_of(const bench::Concession& accepted) {
    const bool overdue = accepted.nonconformity == bench::Nonconformity::calibration_overdue;
    return {accepted.role,
            accepted.serial,
            overdue ? report::Nonconformity::calibration_overdue : report::Nonconformity::check_failed,
            accepted.since,
            accepted.error_g,
            accepted.mass_g,
            accepted.reason};
}

void add_overdue(report::Record& record) {
    for (const auto& instrument : record.instruments) {
        // ISO dates compare as text.
        if (instrument.due_on.empty() || instrument.due_on >= record.started_at.substr(0, 10)) continue;
        // Whoever accepted it has said so, with the reason.
        const bool said = std::any_of(
            record.concessions.begin(), record.concessions.end(), [&](const report::Concession& one) {
                return one.nonconformity == report::Nonconformity::calibration_overdue &&
                       one.role == instrument.role && one.serial == instrument.serial;
            });
        if (said) continue;
        report::Concession overdue;
        overdue.role = instrument.role;
        overdue.serial = instrument.serial;
        overdue.since = instrument.due_on;
        record.concessions.push_back(std::move(overdue));
    }
}

// A remark that told somebody to act states on paper what made it: the instruction was for those beside the
// bench.
std::string what_happened(const std::string& remark) {
    const std::string instruction = std::string(bench::WaterGuard::pull_the_plug) + ": ";
    if (!remark.starts_with(instruction)) return remark;
    std::string what = remark.substr(instruction.size());
    for (const char* further : {". Leave the plug", ". Dry hands"}) what = what.substr(0, what.find(further));
    if (!what.empty() && what[0] >= 'a' && what[0] <= 'z') what[0] = static_cast<char>(what[0] - 'a' + 'A');
    return what.ends_with('.') ? what : what + ".";
}

}  // namespace

report::Party party_of(const bench::PartyDescription& party) {
    return {party.name, party.address, party.contact};
}

report::GaugeIdentity identity_of(const bench::GaugeDescription& gauge) {
    report::GaugeIdentity identity;
    identity.kind = gauge.kind;
    identity.kind_title = gauge.kind_title;
    identity.model = gauge.model;
    identity.serial = gauge.serial;
    identity.condition = gauge.condition;
    identity.station = gauge.station;
    identity.catch_diameter_method = gauge.catch_diameter_method;
    return identity;
}

void add_instruments(const std::vector<bench::InstrumentDescription>& instruments, report::Record& record) {
    for (const auto& used : instruments) {
        record.instruments.push_back({used.role, used.description, used.serial, used.certificate,
                                      used.calibrated_on, used.due_on, used.traceability, used.issued_by,
                                      used.accreditation});
    }
}

Result<report::Record> record_of_run(const bench::ReplayedRun& run, const SourceFile& journal,
                                     const RecordOptions& options) {
    report::Record record;
    record.program_version = run.program_version;
    record.number = options.number;
    record.state = options.state;
    if (run.as_left) record.state = *run.as_left ? report::State::as_left : report::State::as_found;
    // Only a virtual bench is given a seed: a description that hides what it was does not take that away.
    const bool simulated =
        run.bench.truth.has_value() || !run.seed.empty() || bench::said_to_be_virtual(run.remarks);
    record.origin = simulated ? report::Origin::virtual_bench : report::Origin::real_bench;
    record.invented = run.bench.invented || run.gauge.invented || simulated;
    record.completeness = run.complete ? report::Completeness::complete : report::Completeness::incomplete;
    record.end_reason = run.complete ? "" : run.end_reason;
    record.laboratory = party_of(run.bench.laboratory);
    record.laboratory_facts = run.bench.facts;
    record.place = run.bench.place;
    record.customer = party_of(run.gauge.customer);
    record.identity = identity_of(run.gauge);
    record.gauge = run.gauge.gauge;
    record.operator_name = run.bench.operator_name;
    record.authorised_by = run.bench.authorised_by;
    record.received_on = run.gauge.received_on;
    record.started_at = run.started_at;
    record.ended_at = run.ended_at;
    record.method = method_of_bench;
    add_instruments(run.bench.instruments, record);
    add_instruments(run.bench.hand_instruments, record);
    record.bench = run.bench.metrology;
    record.plan = run.plan.plan;
    record.bench_duration_s = run.duration_s;
    record.source_name = journal.name;
    record.source_sha256 = journal.sha256;
    for (const std::string& remark : run.remarks) record.deviations.push_back(what_happened(remark));
    for (const auto& accepted : run.concessions) record.concessions.push_back(concession_of(accepted));
    add_overdue(record);

    auto evaluation = calib::evaluate(run.observations, run.gauge.gauge, run.bench.metrology, run.plan.plan,
                                      report::causes_of(record));
    if (!evaluation) return evaluation.fault();
    record.evaluation = std::move(*evaluation);
    if (auto checked = calib::check_by_monte_carlo(record.evaluation, run.plan.plan); !checked)
        return checked.fault();
    record.findings = run.findings;
    report::state(record);
    return record;
}

}  // namespace tipwright::program
