#include "bench/program/results/read_record.hpp"

#include "bench/program/results/file_kind.hpp"
#include "bench/program/version.hpp"
#include "report/files/files.hpp"
#include "report/record/causes.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/register.hpp"

namespace tipwright::program {

Result<report::Record> read_record(const std::filesystem::path& file) {
    const auto kind = kind_of(file);
    if (!kind) return kind.fault();
    auto text = read_file(file);
    if (!text) return text.fault();
    if (*kind == FileKind::certificate) text = report::read_attached_record(*text, file.string());
    if (!text) return text.fault();
    return report::record_from_json(*text, file.string());
}

Result<report::Record> read_sound_record(const std::filesystem::path& file) {
    auto record = read_record(file);
    if (!record) return record;
    if (auto fault = unsound(*record, file.string())) return *fault;
    // What may be stated is decided by this program, whatever wrote the record.
    report::state(*record);
    return record;
}

Result<report::Record> kept_sound_record(report::Register& reg, report::Id id, const std::string& name) {
    auto record = reg.record(id);
    if (!record) return record;
    if (auto fault = unsound(*record, "record " + std::to_string(id) + " of the register, " + visible(name)))
        return *fault;
    return record;
}

std::optional<Fault> unsound(const report::Record& record, const std::string& where) {
    const report::RecordAgreement agreement = results_follow(record);
    if (agreement.agreement != report::Agreement::beyond_rounding) return std::nullopt;
    return Fault{FaultCode::inconsistent,
                 "its results do not follow from its own observations: " + agreement.text(), where,
                 "it was changed after it was measured: ask for the laboratory's own file"};
}

report::RecordAgreement results_follow(const report::Record& record) {
    const auto failed = [](const Fault& fault) {
        return report::RecordAgreement{
            report::Agreement::beyond_rounding, {"$.evaluation", "results", fault.line()}, 1};
    };
    const auto observations = calib::observations_of(record.evaluation);
    auto evaluation =
        calib::evaluate(observations, record.gauge, record.bench, record.plan, report::causes_of(record));
    if (!evaluation) return failed(evaluation.fault());
    if (!record.evaluation.monte_carlo.empty())
        if (const auto checked = calib::check_by_monte_carlo(*evaluation, record.plan); !checked)
            return failed(checked.fault());
    report::Record again = record;
    again.evaluation = std::move(*evaluation);
    report::state(again);
    return record_agreement(report::record_to_json(record), again);
}

report::RecordAgreement record_agreement(const std::string& stored, const report::Record& computed) {
    return report::agreement_of(report::record_differences(stored, report::record_to_json(computed)),
                                computed.program_version == version());
}

}  // namespace tipwright::program
