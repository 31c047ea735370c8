// Tables of results, one for each state of the gauge.
#include <algorithm>
#include <cmath>

#include "report/certificate/document_words.hpp"
#include "report/certificate/facts_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/column_decimals.hpp"

namespace tipwright::report::certificate {

namespace {

using calib::StepResult;

const calib::StepConformity* judged(const Record& record, int step) {
    const auto& steps = record.evaluation.conformity.steps;
    const auto found = std::find_if(steps.begin(), steps.end(), [&](const calib::StepConformity& candidate) {
        return candidate.step == step && candidate.verdict != calib::Verdict::no_limit;
    });
    return found == steps.end() ? nullptr : &*found;
}

std::string limit_range(const Numbers& numbers, const calib::StepConformity& row) {
    const std::string high = numbers.significant(row.high_percent, 4);
    if (row.low_percent == -row.high_percent) return "±" + high;
    return numbers.significant(row.low_percent, 4) + " / " + high;
}

Table results_table(const Content& content, const Record& record) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    const bool timed = !content.is_static();
    const bool limited = std::any_of(record.evaluation.steps.begin(), record.evaluation.steps.end(),
                                     [&](const StepResult& s) { return judged(record, s.observation.step); });
    Table table;
    const auto column = [&](bool wanted, const char* key, double weight, Align align = Align::number) {
        if (wanted) table.columns.push_back({words.text(key), weight, align});
    };
    column(true, "results.step", 26, Align::centre);
    column(timed, "results.set", 30);
    column(timed, "results.reference", 44);
    column(timed, "results.U_reference", 36);
    column(timed, "results.indicated", 44);
    column(true, "results.tips", 28, Align::centre);
    column(timed, "results.time", 36);
    column(!timed, "results.mass", 40);
    column(true, "results.volume", 40);
    column(true, "results.U_volume", 36);
    column(true, "results.error", 36);
    column(true, "results.U_error", 30);
    column(true, "results.k", 26);
    column(limited, "results.limits", 36, Align::centre);
    column(limited, "results.verdict", 56, Align::centre);

    const StepDecimals decimals = decimals_of(record.evaluation.steps, content.coverage());
    for (const StepResult& step : record.evaluation.steps) {
        const calib::StepObservation& seen = step.observation;
        TableRow row;
        row.cells.push_back(std::to_string(seen.step));
        if (timed) {
            const auto reference =
                numbers.pair(*step.reference_intensity_mm_h, content.coverage(), decimals.reference);
            row.cells.push_back(
                seen.set_intensity_mm_h > 0 ? numbers.fixed(seen.set_intensity_mm_h, decimals.set) : "–");
            row.cells.push_back(reference.value);
            row.cells.push_back(reference.U);
            row.cells.push_back(numbers.fixed(step.indicated_intensity_mm_h.value_or(0), decimals.indicated));
        }
        row.cells.push_back(std::to_string(seen.tips));
        row.cells.push_back(timed ? numbers.fixed(seen.duration_s.value_or(0), 1)
                                  : numbers.fixed(step.mass_g, 2));
        const auto volume = numbers.pair(step.volume_per_tip_mL, content.coverage(), decimals.volume);
        row.cells.push_back(volume.value);
        row.cells.push_back(volume.U);
        const auto error = numbers.pair(step.error_percent.value, step.error_expanded, decimals.error);
        row.cells.push_back(error.value);
        row.cells.push_back(error.U);
        row.cells.push_back(error.k);
        if (limited) {
            const calib::StepConformity* verdict = judged(record, seen.step);
            row.cells.push_back(verdict ? limit_range(numbers, *verdict) : "–");
            row.cells.push_back(verdict ? step_verdict(words, record, seen.step, verdict->verdict)
                                        : words.text("verdict.no_limit"));
        }
        table.rows.push_back(std::move(row));
    }
    // What was run, but of which nothing is stated, is not hidden.
    for (const int step : record.statement.withheld_steps()) {
        TableRow row;
        row.cells.assign(table.columns.size(), "–");
        row.cells.front() = std::to_string(step);
        // What was asked of the gauge is a fact of the plan.
        if (const double set = planned_intensity_mm_h(record, step); timed && set > 0)
            row.cells[1] = numbers.fixed(set, decimals.set);
        if (limited) row.cells.back() = words.text("reservation.not_stated");
        const auto place = std::find_if(table.rows.begin(), table.rows.end(), [&](const TableRow& other) {
            return std::stoi(other.cells.front()) > step;
        });
        table.rows.insert(place, std::move(row));
    }
    return table;
}

std::string weighing_word(const Words& words, calib::WeighingMethod method) {
    switch (method) {
        case calib::WeighingMethod::plateau:
            return words.text("results.weighing_plateau");
        case calib::WeighingMethod::staircase:
            return words.text("results.weighing_staircase");
        case calib::WeighingMethod::supplied:
            break;
    }
    return words.text("results.weighing_supplied");
}

// Four figures of the shortest.
int decimals_of_intervals(const std::vector<StepResult>& steps) {
    double shortest = 1;
    for (const StepResult& step : steps)
        if (step.mean_interval_s.value_or(0) > 0) shortest = std::min(shortest, *step.mean_interval_s);
    return 3 - static_cast<int>(std::floor(std::log10(shortest)));
}

// What each contact counted and each compartment held: the facts behind the means.
Table details_table(const Content& content, const Record& record) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    const auto& steps = record.evaluation.steps;
    std::size_t contacts = 0;
    bool sides = false;
    bool scatter = false;
    for (const StepResult& step : steps) {
        contacts = std::max(contacts, step.observation.contact_counts.size());
        sides = sides || (step.compartment_a_mL && step.compartment_b_mL);
        scatter = scatter || step.observation.scatter.sd_percent > 0;
    }
    const bool timed = !content.is_static();
    // What was weighed and counted, so that V can be worked out again from the paper.
    const bool weighed = std::none_of(steps.begin(), steps.end(),
                                      [](const StepResult& step) { return step.observation.is_volume; });
    Table table;
    table.columns.push_back({words.text("results.step"), 26, Align::centre});
    table.columns.push_back(
        {words.text(weighed ? "results.difference" : "results.difference_volume"), 36, Align::number});
    if (timed) {
        table.columns.push_back({words.text("results.flow"), 40, Align::number});
        table.columns.push_back({words.text("results.interval"), 44, Align::number});
    }
    for (std::size_t i = 0; i < contacts; ++i)
        table.columns.push_back(
            {words.text("results.contact", {{"number", std::to_string(i + 1)}}), 40, Align::centre});
    if (sides) {
        table.columns.push_back({words.text("results.side_a"), 58, Align::number});
        table.columns.push_back({words.text("results.side_b"), 58, Align::number});
        table.columns.push_back({words.text("results.side_U"), 36, Align::number});
        table.columns.push_back({words.text("results.side_difference"), 44, Align::number});
    }
    if (scatter) table.columns.push_back({words.text("results.scatter"), 52, Align::number});
    table.columns.push_back({words.text("results.weighing"), 46, Align::centre});

    const StepDecimals decimals = decimals_of(steps, content.coverage());
    const int interval_decimals = decimals_of_intervals(steps);
    for (const StepResult& step : steps) {
        const calib::StepObservation& seen = step.observation;
        TableRow row;
        row.cells.push_back(std::to_string(seen.step));
        row.cells.push_back(numbers.fixed(seen.balance_difference_g, 3));
        if (timed) {
            row.cells.push_back(numbers.pair(*step.flow_mL_min, content.coverage(), decimals.flow).value);
            row.cells.push_back(numbers.fixed(step.mean_interval_s.value_or(0), interval_decimals));
        }
        for (std::size_t i = 0; i < contacts; ++i)
            row.cells.push_back(i < seen.contact_counts.size() ? std::to_string(seen.contact_counts[i])
                                                               : "–");
        if (sides) {
            if (step.compartment_a_mL && step.compartment_b_mL) {
                const double a = step.compartment_a_mL->value;
                const double b = step.compartment_b_mL->value;
                const auto side_a = numbers.pair(*step.compartment_a_mL, content.coverage(), decimals.sides);
                row.cells.push_back(side_a.value);
                row.cells.push_back(
                    numbers.pair(*step.compartment_b_mL, content.coverage(), decimals.sides).value);
                row.cells.push_back(side_a.U);
                row.cells.push_back(numbers.fixed(200 * (a - b) / (a + b), 1));
            } else {
                row.cells.insert(row.cells.end(), 4, "–");
            }
        }
        if (scatter)
            row.cells.push_back(seen.scatter.sd_percent > 0 ? numbers.fixed(seen.scatter.sd_percent, 2)
                                                            : "–");
        row.cells.push_back(weighing_word(words, seen.weighing));
        table.rows.push_back(std::move(row));
    }
    return table;
}

void draw_state(Content& content, const Record& record) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const std::string state = content.state_word(record);
    flow.heading(words.text("results.heading", {{"state", state}}));
    draw_table(flow, results_table(content, record), words.decimal_sign());
    std::string note = starred_note(words, record);
    if (!note.empty()) note += " ";
    // The second table's columns are those of the first.
    if (&record != &content.record)
        note += words.text("results.note_again", {{"state", content.state_word(content.record)}});
    else
        note += words.text(content.is_static() ? "results.note_static" : "results.note",
                           {{"coverage", content.numbers.percent(content.coverage())}});
    flow.paragraph(note, small_style);
    if (const std::string raised = raised_words(words, record); !raised.empty())
        flow.paragraph(raised, small_style);
    std::vector<std::string> endings;
    for (const StepResult& step : record.evaluation.steps) {
        const std::string number = std::to_string(step.observation.step);
        if (step.observation.ended == calib::CollectEnd::time_limit)
            endings.push_back(words.text("results.time_limit", {{"step", number}}));
        if (step.observation.ended == calib::CollectEnd::vessel_full)
            endings.push_back(words.text("results.vessel_full", {{"step", number}}));
    }
    flow.list(endings, small_style);
}

}  // namespace

void draw_results_as_it_leaves(Content& content) {
    draw_state(content, content.record);
}

void draw_results_as_found(Content& content) {
    if (const Record* before = content.as_found()) draw_state(content, *before);
}

void draw_details(Content& content) {
    content.flow.heading(by_compartments(content.words, content.record, "annex.details"));
    for (const Record* record : content.states()) {
        Table details = details_table(content, *record);
        details.caption =
            content.words.text(record->gauge.compartments == 1 ? "results.details_single" : "results.details",
                               {{"state", content.state_word(*record)}});
        details.caption_style = small_style;
        draw_table(content.flow, details, content.words.decimal_sign());
        draw_repeats(content, *record);
    }
}

}  // namespace tipwright::report::certificate
