#include "bench/program/page/came_out.hpp"

#include <cmath>

#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/results/read_record.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/record/statement_of.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::program {

namespace {

std::optional<page::LargestError> largest_error(const report::Record& record) {
    std::optional<page::LargestError> out;
    for (const calib::StepResult& step : report::stated_steps(record)) {
        if (out && std::abs(step.error_percent.value) <= std::abs(out->error_percent)) continue;
        out = page::LargestError{step.observation.set_intensity_mm_h, step.error_percent.value,
                                 step.error_expanded.U};
    }
    return out;
}

}  // namespace

page::CameOut came_out_of(const report::Record& record) {
    page::CameOut out{record.evaluation.conformity.overall, record.statement.verdict,
                      report::certificate::is_static_check(record), largest_error(record)};
    out.reservations = record.statement.reservations;
    out.needs_acceptance = record.statement.needs_acceptance();
    out.steps_finished = report::stated_steps(record).size();
    out.steps_planned = record.plan.steps.size();
    return out;
}

Result<std::optional<page::CameOut>> came_out_of_run(const std::filesystem::path& journal, bool last) {
    const std::filesystem::path beside = journal.parent_path() / "record.json";
    std::error_code none;
    if (std::filesystem::exists(beside, none)) {
        const auto record = read_record(beside);
        const auto digest = seal::sha256_hex_of_file(journal.string());
        if (record && digest && record->source_sha256 == *digest) return std::optional(came_out_of(*record));
    }
    if (!last) return std::optional<page::CameOut>();
    const auto record = record_of_journal(journal, {});
    if (!record) return record.fault();
    return std::optional(came_out_of(*record));
}

}  // namespace tipwright::program
