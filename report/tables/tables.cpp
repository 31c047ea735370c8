#include "report/tables/tables.hpp"

#include <algorithm>

namespace tipwright::report {

namespace {

bool always(const Record&) {
    return true;
}

bool has_repeats(const Record& record) {
    const auto& steps = record.evaluation.steps;
    return std::any_of(steps.begin(), steps.end(), [](const auto& step) { return !step.repeats.empty(); });
}

bool has_correction(const Record& record) {
    return record.evaluation.correction.has_value();
}

// Of a table that has a text of any record.
template <std::string (*table)(const Record&, const certificate::Words&, TableForm)>
Result<std::string> of_any(const Record& record, const certificate::Words& words, TableForm form) {
    return table(record, words, form);
}

bool is_comment(std::string_view line) {
    return line.starts_with('#');
}

constexpr RunTable tables[] = {
    {"results", "results.csv", "# tipwright results ", always, of_any<results_csv>, is_comment},
    {"runs", "runs.csv", "# tipwright runs ", has_repeats, of_any<runs_csv>, is_comment},
    {"correction", "correction.csv", "# tipwright correction ", has_correction, correction_csv, is_comment},
};

}  // namespace

std::span<const RunTable> run_tables() {
    return tables;
}

const RunTable* run_table_of(std::string_view bytes) {
    const auto found = std::find_if(std::begin(tables), std::end(tables), [&](const RunTable& table) {
        return bytes.starts_with(table.first_line);
    });
    return found == std::end(tables) ? nullptr : found;
}

}  // namespace tipwright::report
