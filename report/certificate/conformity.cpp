// Limits, decision rule with its risk, and the verdict of each step (ISO/IEC 17025:2017 clause 7.8.6).
#include <algorithm>

#include "report/certificate/facts_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/tables/column_decimals.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report::certificate {

std::string guard_band_words(const Words& words, const calib::Conformity& conformity) {
    if (conformity.guard_band_times_U == 1) return "‹U›";
    return words.number(significant(conformity.guard_band_times_U, 4)) + "\u00A0‹U›";
}

namespace {

using calib::Verdict;

std::string rule_text(const Content& content, const calib::Conformity& conformity, double coverage) {
    switch (conformity.rule) {
        case calib::DecisionRule::simple_acceptance:
            return content.words.text("conformity.simple_acceptance");
        case calib::DecisionRule::guard_band:
            return content.words.text(
                "conformity.guard_band",
                {{"w", guard_band_words(content.words, conformity)},
                 {"risk", content.numbers.significant(100 * calib::risk_bound(conformity, coverage), 2)}});
        case calib::DecisionRule::conformance_probability:
            break;
    }
    return content.words.text("conformity.conformance_probability",
                              {{"required", content.numbers.percent(conformity.required_probability)},
                               {"risk", content.numbers.percent(1 - conformity.required_probability)}});
}

bool has_global_risk(const calib::Conformity& conformity) {
    return std::any_of(conformity.steps.begin(), conformity.steps.end(),
                       [](const calib::StepConformity& step) { return step.consumer_risk.has_value(); });
}

Table verdict_table(const Content& content, const Record& record) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    Table table;
    const bool timed = !content.is_static();
    table.columns.push_back({words.text("conformity.step"), 26, Align::centre});
    if (timed) table.columns.push_back({words.text("conformity.intensity"), 50, Align::number});
    for (const char* key : {"conformity.error", "conformity.U", "conformity.lower", "conformity.upper"})
        table.columns.push_back({words.text(key), 44, Align::number});
    table.columns.push_back({words.text("conformity.verdict"), 60, Align::centre});
    table.columns.push_back({words.text("conformity.within"), 90, Align::centre});
    table.columns.push_back({words.text("conformity.wrong"), 90, Align::centre});
    const bool global = has_global_risk(record.evaluation.conformity);
    if (global) {
        table.columns.push_back({words.text("conformity.consumer"), 76, Align::centre});
        table.columns.push_back({words.text("conformity.producer"), 76, Align::centre});
    }
    const StepDecimals decimals = decimals_of(record.evaluation.steps, content.coverage());
    for (const calib::StepConformity& judged : record.evaluation.conformity.steps) {
        const auto& steps = record.evaluation.steps;
        const auto step = std::find_if(steps.begin(), steps.end(), [&](const calib::StepResult& candidate) {
            return candidate.observation.step == judged.step;
        });
        if (step == steps.end()) continue;
        const auto error = numbers.pair(step->error_percent.value, step->error_expanded, decimals.error);
        const bool limited = judged.verdict != Verdict::no_limit;
        const bool decided = judged.verdict == Verdict::pass || judged.verdict == Verdict::fail;
        TableRow row;
        row.cells.push_back(std::to_string(judged.step));
        if (timed) row.cells.push_back(numbers.fixed(judged.intensity_mm_h, decimals.reference));
        row.cells.push_back(error.value);
        row.cells.push_back(error.U);
        row.cells.push_back(limited ? numbers.significant(judged.low_percent, 4) : "–");
        row.cells.push_back(limited ? numbers.significant(judged.high_percent, 4) : "–");
        row.cells.push_back(step_verdict(words, record, judged.step, judged.verdict));
        row.cells.push_back(limited ? numbers.probability(judged.conformance_probability) : "–");
        row.cells.push_back(decided ? numbers.probability(judged.wrong_probability) : "–");
        if (global) {
            row.cells.push_back(judged.consumer_risk ? numbers.probability(*judged.consumer_risk) : "–");
            row.cells.push_back(judged.producer_risk ? numbers.probability(*judged.producer_risk) : "–");
        }
        table.rows.push_back(std::move(row));
    }
    return table;
}

}  // namespace

namespace {

// What a state was judged by: limits and rule may differ between as found and as left.
struct JudgedBy {
    std::string limits;
    std::vector<std::string> rows;  // more than one span of intensities
    std::string rule;
    std::string population;

    bool operator==(const JudgedBy&) const = default;
};

JudgedBy judged_by(const Content& content, const Record& record) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    const calib::Conformity& conformity = record.evaluation.conformity;
    JudgedBy out;
    out.limits =
        words.text("conformity.limits",
                   {{"name", conformity.limits.name.empty()
                                 ? "–"
                                 : words.named("translated", conformity.limits.name, conformity.limits.name)},
                    {"source", conformity.limits.source.empty() ? words.text("front.not_stated")
                                                                : conformity.limits.source}});
    for (const calib::LimitRow& row : conformity.limits.rows)
        out.rows.push_back(
            words.text("conformity.limits_row", {{"from", numbers.significant(row.from_mm_h, 4)},
                                                 {"to", numbers.significant(row.to_mm_h, 4)},
                                                 {"low", numbers.significant(row.low_percent, 4)},
                                                 {"high", numbers.significant(row.high_percent, 4)}}));
    if (out.rows.size() == 1) {
        out.limits += " " + out.rows.front();
        out.rows.clear();
    }
    const auto& rows = conformity.limits.rows;
    const bool meet = std::adjacent_find(rows.begin(), rows.end(), [](const auto& one, const auto& next) {
                          return next.from_mm_h <= one.to_mm_h;
                      }) != rows.end();
    if (meet) out.rows.push_back(words.text("conformity.limits_meet"));
    if (record.statement.has(calib::ReservationId::limits_unconfirmed))
        out.limits += " " + words.text("summary.provisional");
    const std::string agreed = agreed_words(words, record);
    out.rule = rule_text(content, conformity, record.plan.coverage) + (agreed.empty() ? "" : " " + agreed);
    const auto& population = conformity.limits.population;
    if (population && has_global_risk(conformity))
        out.population =
            words.text("conformity.population", {{"mean", numbers.significant(population->mean_percent, 4)},
                                                 {"sd", numbers.significant(population->sd_percent, 4)},
                                                 {"source", population->source}});
    return out;
}

}  // namespace

void draw_conformity(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    flow.heading(words.text("conformity.heading"));
    std::vector<const Record*> judged;
    for (const Record* record : content.states())
        if (record->evaluation.conformity.overall != Verdict::no_limit) judged.push_back(record);
    if (judged.empty()) {
        flow.paragraph(words.text("conformity.none"), stated_style);
        return;
    }
    const JudgedBy first = judged_by(content, *judged.front());
    const bool alike = judged.size() == content.states().size() &&
                       std::all_of(judged.begin(), judged.end(), [&](const Record* record) {
                           return judged_by(content, *record) == first;
                       });
    const auto same_rule = [&](const Record* record) {
        return judged_by(content, *record).rule == first.rule;
    };
    const bool one_rule = std::all_of(judged.begin(), judged.end(), same_rule);
    for (const Record* record : judged) {
        if (alike && record != judged.front()) continue;
        const JudgedBy by = judged_by(content, *record);
        flow.paragraph(alike ? by.limits : content.of_state(*record, by.limits), stated_style);
        flow.list(by.rows, stated_style);
        if (!one_rule || record == judged.back() || alike) flow.paragraph(by.rule, stated_style);
        if (!by.population.empty()) flow.paragraph(by.population, stated_style);
    }
    const std::string last = overall_verdict_sentence(words, *judged.back());
    const bool one_verdict = alike && std::all_of(judged.begin(), judged.end(), [&](const Record* record) {
                                 return overall_verdict_sentence(words, *record) == last;
                             });
    if (one_verdict && judged.size() > 1) {
        std::vector<std::string> states;
        states.reserve(judged.size());
        for (const Record* record : judged) states.push_back(content.state_word(*record));
        flow.paragraph(words.text("method.of_state", {{"state", words.list(states)}, {"text", last}}),
                       strong_style);
        return;
    }
    for (const Record* record : judged)
        flow.paragraph(content.of_state(*record, overall_verdict_sentence(words, *record)), strong_style);
}

void draw_conformity_steps(Content& content) {
    const auto judged = [](const Record* record) {
        return record->evaluation.conformity.overall != Verdict::no_limit;
    };
    const auto states = content.states();
    if (std::none_of(states.begin(), states.end(), judged)) return;
    content.flow.heading(content.words.text("annex.conformity"));
    for (const Record* record : states) {
        if (!judged(record)) continue;
        Table table = verdict_table(content, *record);
        table.caption = content.words.text("annex.state", {{"state", content.state_word(*record)}});
        table.caption_style = small_style;
        draw_table(content.flow, table, content.words.decimal_sign());
        if (const std::string starred = starred_note(content.words, *record); !starred.empty())
            content.flow.paragraph(starred, small_style);
    }
    std::string assumption = content.words.text("conformity.assumption");
    if (!content.record.evaluation.conformity.limits.population)
        assumption += " " + content.words.text("conformity.no_prior");
    content.flow.paragraph(assumption, small_style);
}

}  // namespace tipwright::report::certificate
