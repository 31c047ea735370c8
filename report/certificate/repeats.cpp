// The runs of every step, with those the plan's rule discarded.
#include <algorithm>

#include "calib/rate/repeats.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"
#include "report/tables/column_decimals.hpp"

namespace tipwright::report::certificate {

namespace {

Table runs_table(const Content& content, const Record& record) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    const bool timed = !content.is_static();
    Table table;
    table.columns.push_back({words.text("results.step"), 30, Align::centre});
    table.columns.push_back({words.text("repeats.run"), 30, Align::centre});
    if (timed) table.columns.push_back({words.text("results.reference"), 60, Align::number});
    table.columns.push_back({words.text("results.tips"), 40, Align::centre});
    if (timed) table.columns.push_back({words.text("results.time"), 50, Align::number});
    table.columns.push_back({words.text("results.volume"), 60, Align::number});
    table.columns.push_back({words.text("results.error"), 50, Align::number});
    table.columns.push_back({words.text("results.U_error"), 50, Align::number});
    table.columns.push_back({words.text("repeats.use"), 80, Align::centre});
    const StepDecimals decimals = decimals_of(record.evaluation.steps, content.coverage());
    for (const calib::StepResult& step : record.evaluation.steps) {
        for (const calib::StepRepeat& run : step.repeats) {
            const calib::StepObservation& seen = run.observation;
            TableRow row;
            row.cells.push_back(std::to_string(seen.step));
            row.cells.push_back(std::to_string(seen.repeat));
            if (timed)
                row.cells.push_back(run.reference_intensity_mm_h
                                        ? numbers
                                              .pair(*run.reference_intensity_mm_h, content.coverage(),
                                                    decimals.repeat_reference)
                                              .value
                                        : "–");
            row.cells.push_back(std::to_string(seen.tips));
            if (timed) row.cells.push_back(numbers.fixed(seen.duration_s.value_or(0), 1));
            row.cells.push_back(
                numbers.pair(run.volume_per_tip_mL, content.coverage(), decimals.repeat_volume).value);
            const auto error =
                numbers.pair(run.error_percent.value, run.error_expanded, decimals.repeat_error);
            row.cells.push_back(error.value);
            row.cells.push_back(error.U);
            row.cells.push_back(words.text(run.kept ? "repeats.kept" : "repeats.discarded"));
            table.rows.push_back(std::move(row));
        }
    }
    return table;
}

}  // namespace

void draw_repeats(Content& content, const Record& record) {
    const auto& steps = record.evaluation.steps;
    const auto repeated = std::find_if(steps.begin(), steps.end(),
                                       [](const calib::StepResult& step) { return !step.repeats.empty(); });
    if (repeated == steps.end()) return;
    const Words& words = content.words;
    // The same for every step, or else told by the table.
    const bool alike = std::all_of(steps.begin(), steps.end(), [&](const calib::StepResult& step) {
        return step.repeats.size() == repeated->repeats.size() &&
               calib::repeats_kept(step) == calib::repeats_kept(*repeated);
    });
    const bool discarding = record.plan.repeat_rule == calib::RepeatRule::discard_extremes_mean;
    std::string text;
    if (alike)
        text = words.text("repeats.count", {{"runs", std::to_string(repeated->repeats.size())},
                                            {"kept", std::to_string(calib::repeats_kept(*repeated))}}) +
               " ";
    text += words.text(discarding ? "repeats.rule_discard" : "repeats.rule_mean");
    content.flow.paragraph(text + " " + words.text("repeats.uncertainty"), small_style);
    Table table = runs_table(content, record);
    table.caption = words.text("repeats.caption", {{"state", content.state_word(record)}});
    table.caption_style = small_style;
    draw_table(content.flow, table, words.decimal_sign());
}

}  // namespace tipwright::report::certificate
