#include "bench/program/results/step_table.hpp"

#include <algorithm>
#include <utility>
#include <vector>

#include "bench/program/shown.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/column_decimals.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::program {

namespace {

struct Column {
    std::string name;
    std::string unit;
    int wanted = 0;  // the least goes first where the line is too short; 0: it stays
    std::vector<std::string> cells = {};

    std::size_t width() const {
        std::size_t widest = std::max(code_point_count(name), code_point_count(unit));
        for (const std::string& cell : cells) widest = std::max(widest, code_point_count(cell));
        return widest;
    }
};

std::string with_U(double value, double U, int decimals) {
    const calib::RoundedPair rounded = calib::round_to_decimals(value, U, decimals);
    return rounded.value + " ± " + rounded.uncertainty;
}

std::string with_U(const calib::Uncertain& quantity, double coverage, int decimals) {
    return with_U(quantity.value, calib::expanded(quantity, coverage).U, decimals);
}

std::string verdict_of(const report::Record& record, int step) {
    for (const auto& judged : record.evaluation.conformity.steps)
        if (judged.step == step && judged.verdict != calib::Verdict::no_limit &&
            judged.verdict != calib::Verdict::not_stated)
            return std::string(calib::name_of(judged.verdict));
    return "-";
}

std::vector<Column> columns_of(const report::Record& record) {
    Column step{"step", ""};
    Column set{"set", "mm/h", 5};
    Column inches{"", "in/h", 2};
    Column reference{"intensity", "mm/h ± U", 3};
    Column tips{"tips", "", 4};
    Column volume{"volume per tip", "mL ± U"};
    Column error{"error", "% ± U"};
    Column factor{"k", "", 1};
    Column verdict{"verdict", "", 6};
    const double coverage = record.plan.coverage;
    // As on paper.
    const report::StepDecimals decimals = report::decimals_of(report::stated_steps(record), coverage);
    bool timed = false;
    bool judged = false;
    for (const calib::StepResult& one : record.evaluation.steps) {
        const calib::StepObservation& seen = one.observation;
        const bool stated = report::is_stated(record, seen.step);
        const auto put = [&](Column& column, std::string text, bool known = true) {
            column.cells.push_back(stated && known ? std::move(text) : "-");
        };
        const double set_mm_h = seen.set_intensity_mm_h;
        step.cells.push_back(std::to_string(seen.step));
        put(set, calib::fixed(set_mm_h, decimals.set), set_mm_h > 0);
        put(inches, inches_per_hour(set_mm_h), set_mm_h > 0);
        put(reference,
            one.reference_intensity_mm_h ? with_U(*one.reference_intensity_mm_h, coverage, decimals.reference)
                                         : std::string(),
            one.reference_intensity_mm_h.has_value());
        put(tips, std::to_string(seen.tips));
        put(volume, with_U(one.volume_per_tip_mL, coverage, decimals.volume));
        put(error, with_U(one.error_percent.value, one.error_expanded.U, decimals.error));
        put(factor, calib::fixed(one.error_expanded.k, 2));
        put(verdict, stated ? verdict_of(record, seen.step) : "");
        if (!stated) verdict.cells.back() = "not stated";
        timed = timed || one.reference_intensity_mm_h.has_value();
        judged = judged || verdict.cells.back() != "-";
    }
    std::vector<Column> out{std::move(step)};
    if (timed) out.push_back(std::move(set));
    if (timed && inches_shown()) out.push_back(std::move(inches));
    if (timed) out.push_back(std::move(reference));
    for (Column* column : {&tips, &volume, &error, &factor}) out.push_back(std::move(*column));
    if (judged) out.push_back(std::move(verdict));
    return out;
}

constexpr std::size_t gap = 2;

void make_fit(std::vector<Column>& columns, std::size_t width) {
    for (;;) {
        std::size_t total = 0;
        for (const Column& column : columns) total += column.width() + gap;
        if (total <= width + gap) return;
        auto least = columns.end();
        for (auto one = columns.begin(); one != columns.end(); ++one)
            if (one->wanted > 0 && (least == columns.end() || one->wanted < least->wanted)) least = one;
        if (least == columns.end()) return;
        columns.erase(least);
    }
}

}  // namespace

std::string step_table(const report::Record& record, std::size_t width) {
    if (record.evaluation.steps.empty()) return {};
    std::vector<Column> columns = columns_of(record);
    make_fit(columns, width);
    std::string out;
    const auto line = [&](const auto& cell_of) {
        std::string text;
        for (const Column& column : columns) {
            const std::string& cell = cell_of(column);
            if (!text.empty()) text.append(gap, ' ');
            text.append(column.width() - code_point_count(cell), ' ');
            text += cell;
        }
        text.erase(text.find_last_not_of(' ') + 1);
        out += text + "\n";
    };
    line([](const Column& column) -> const std::string& { return column.name; });
    line([](const Column& column) -> const std::string& { return column.unit; });
    for (std::size_t row = 0; row < record.evaluation.steps.size(); ++row)
        line([row](const Column& column) -> const std::string& { return column.cells[row]; });
    out += "U: expanded, for " + report::significant(100 * record.plan.coverage, 6) + " % coverage\n";
    return out;
}

}  // namespace tipwright::program
