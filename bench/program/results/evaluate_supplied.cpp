#include "bench/program/results/evaluate_supplied.hpp"

#include "bench/program/version.hpp"
#include "bench/supplied/supplied.hpp"
#include "report/record/causes.hpp"
#include "report/record/statement_of.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::program {

namespace {

std::string method_of(const bench::SuppliedMeasurements& supplied) {
    std::string method =
        "Evaluated from measurements supplied by others; this program neither made nor witnessed them. ";
    method += supplied.form == bench::SuppliedForm::per_tip ? "The table holds single tips"
                                                            : "The table holds one row per step";
    method += supplied.method.empty() ? ". " : ": " + supplied.method + ". ";
    if (!supplied.source.empty()) method += "Source: " + supplied.source + ". ";
    if (!supplied.licence.empty()) method += "Licence of the data: " + supplied.licence + ". ";
    return method +
           "Masses were turned into volume with the density of water (Tanaka et al. 2001) and corrected for "
           "air "
           "buoyancy (CIPM-2007); uncertainty after JCGM 100:2008.";
}

}  // namespace

Result<report::Record> record_of_supplied(const CommonOptions& common, const EvaluateOptions& options,
                                          const RecordOptions& record_options) {
    auto supplied = bench::load_supplied(options.source);
    if (!supplied) return supplied.fault();
    calib::Plan plan = supplied->plan;
    if (!options.plan.empty()) {
        const auto wanted = bench::load_plan(options.plan, common.templates);
        if (!wanted) return wanted.fault();
        plan.limits = wanted->plan.limits;
        plan.rule = wanted->plan.rule;
        plan.guard_band_times_U = wanted->plan.guard_band_times_U;
        plan.required_probability = wanted->plan.required_probability;
        plan.coverage = wanted->plan.coverage;
        plan.target_U_percent = wanted->plan.target_U_percent;
    }
    auto digest = seal::sha256_hex_of_file(options.source.string());
    if (!digest) return digest.fault();

    report::Record record;
    record.program_version = version();
    record.number = record_options.number;
    record.state = record_options.state;
    record.origin = report::Origin::supplied_data;
    record.invented = supplied->gauge.invented;
    record.laboratory = party_of(supplied->laboratory);
    record.place = supplied->place;
    record.customer = party_of(supplied->gauge.customer);
    record.identity = identity_of(supplied->gauge);
    record.gauge = supplied->gauge.gauge;
    record.operator_name = supplied->measured_by;
    record.started_at = supplied->measured_on;
    record.ended_at = supplied->measured_on;
    record.issued_on = supplied->measured_on;
    record.method = method_of(*supplied);
    record.deviations = supplied->assumptions;
    add_instruments(supplied->instruments, record);
    record.bench = supplied->metrology;
    record.plan = plan;
    record.source_name = options.source.filename().string();
    record.source_sha256 = *digest;
    auto evaluation =
        calib::evaluate(supplied->observations, record.gauge, record.bench, plan, report::causes_of(record));
    if (!evaluation) return evaluation.fault();
    record.evaluation = std::move(*evaluation);
    if (auto checked = calib::check_by_monte_carlo(record.evaluation, plan); !checked) return checked.fault();
    report::state(record);
    return record;
}

}  // namespace tipwright::program
