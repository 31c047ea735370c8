#include "bench/program/results/read_record.hpp"

#include "bench/program/results/file_kind.hpp"
#include "bench/program/files.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"

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

bool results_follow(const report::Record& record) {
    const auto observations = calib::observations_of(record.evaluation);
    auto evaluation = calib::evaluate(observations, record.gauge, record.bench, record.plan);
    if (!evaluation) return false;
    if (!record.evaluation.monte_carlo.empty() && !calib::check_by_monte_carlo(*evaluation)) return false;
    report::Record again = record;
    again.evaluation = std::move(*evaluation);
    // What the single tips said is in the journal alone.
    again.evaluation.findings = record.evaluation.findings;
    return report::record_to_json(again) == report::record_to_json(record);
}

}  // namespace tipwright::program
