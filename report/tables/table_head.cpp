#include "report/tables/table_head.hpp"

#include "calib/rate/capability_floor.hpp"
#include "report/certificate/correction_words.hpp"
#include "report/certificate/document_words.hpp"
#include "report/certificate/facts_words.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/text_block.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/files/inert_text.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report {

namespace {

using certificate::Words;

// A program that reads the first line knows the rest: 1.0 had neither a number of the form nor other
// languages.
constexpr const char* form_version = "1.1";

// As version 1.0 wrote it, in English alone, for who checks such a table.
std::string head_of_1_0(const Record& record, std::string_view kind, const Words& words) {
    std::string out;
    out += "# tipwright " + std::string(kind) +
           (kind == "correction" ? " for a logger, depth of rain per tip" : " of each step") + "\n";
    comment(out, "certificate", record.number);
    if (record.invented) comment(out, "mark", "demonstration, invented identities and data, of no validity");
    if (record.origin == Origin::virtual_bench) comment(out, "mark", "virtual bench, simulated measurement");
    if (record.origin == Origin::supplied_data) comment(out, "mark", "evaluated from supplied data");
    for (const std::string& sentence : certificate::reservation_sentences(words, record))
        comment(out, "reservation", sentence);
    comment(out, "laboratory", record.laboratory.name);
    comment(out, "gauge", record.identity.model + ", serial " + record.identity.serial);
    if (!record.identity.station.empty()) comment(out, "station", record.identity.station);
    comment(out, "state", record.state == State::as_found ? "as found" : "as left");
    comment(out, "calibrated", record.started_at + " to " + record.ended_at);
    comment(out, "nominal tip", significant(record.gauge.nominal_tip_mm, 6) + " mm");
    comment(out, "catch diameter", significant(record.gauge.catch_diameter_mm.value, 6) + " mm");
    comment(
        out, "U",
        "expanded uncertainty, coverage probability " + significant(100 * record.plan.coverage, 6) + " %");
    std::vector<int> raised;
    for (const calib::StepResult& step : record.evaluation.steps)
        if (calib::is_raised(step) && is_stated(record, step.observation.step))
            raised.push_back(step.observation.step);
    if (!raised.empty()) comment(out, "U raised to the laboratory's CMC at step", step_list(raised));
    if (kind == "correction") {
        comment(out, "formula", record.evaluation.correction->formula);
        comment(out, "example", record.evaluation.correction->worked_example);
        comment(out, "range",
                "tip intervals from " + significant(record.evaluation.correction->interval_min_s, 5) +
                    " s to " + significant(record.evaluation.correction->interval_max_s, 5) +
                    " s; nothing is stated outside it");
    }
    const calib::Limits& limits = record.plan.limits;
    if (kind == "results")
        comment(out, "limits", limits.rows.empty() ? "none" : limits.name + " (" + limits.source + ")");
    if (kind == "runs")
        comment(out, "rule",
                record.plan.repeat_rule == calib::RepeatRule::discard_extremes_mean
                    ? "runs of largest and smallest error discarded, mean of the rest"
                    : "mean of all runs");
    return out;
}

}  // namespace

void comment(std::string& out, const std::string& label, const std::string& text) {
    out += "# " + label + ": " + inert_line(visible(text)) + "\n";
}

std::vector<HeadLine> document_lines(const Record& record, const Words& words) {
    std::vector<HeadLine> out{{words.text("tables.document"), certificate::document_name(words, record)}};
    const auto add = [&](const char* label, const std::string& text) {
        if (!text.empty()) out.emplace_back(words.text(label), text);
    };
    add("tables.mark", certificate::no_certificate_sentence(words, record));
    if (record.invented) add("tables.mark", words.text("mark.invented"));
    if (record.origin == Origin::virtual_bench) add("tables.mark", words.text("mark.virtual_bench"));
    if (record.origin == Origin::supplied_data) add("tables.mark", words.text("mark.supplied_data"));
    for (const std::string& sentence : certificate::reservation_sentences(words, record))
        add("tables.reservation", sentence);
    add("tables.reservation", certificate::traceability_sentence(words, record));
    return out;
}

std::vector<HeadLine> gauge_lines(const Record& record, const Words& words) {
    std::vector<HeadLine> out;
    const auto add = [&](const char* label, const std::string& text) {
        if (!text.empty()) out.emplace_back(words.text(label), text);
    };
    add("tables.gauge", words.text("tables.gauge_value",
                                   {{"model", record.identity.model}, {"serial", record.identity.serial}}));
    add("tables.station", record.identity.station);
    add("tables.state", words.text(record.state == State::as_found ? "title.as_found" : "title.as_left"));
    add("tables.measured",
        words.text("format.date_range", {{"low", record.started_at}, {"high", record.ended_at}}));
    add("tables.nominal", certificate::Numbers(words).significant(record.gauge.nominal_tip_mm, 6) + " mm");
    return out;
}

std::string table_head(const Record& record, std::string_view kind, const Words& words, TableForm form) {
    if (form == TableForm::of_1_0) return head_of_1_0(record, kind, words);
    const certificate::Numbers numbers(words);
    std::string out = "# tipwright " + std::string(kind) + " " + form_version + ": " +
                      words.text("tables." + std::string(kind)) + "\n";
    const auto add = [&](const char* label, const std::string& text) {
        if (!text.empty()) comment(out, words.text(label), text);
    };
    const auto say = [&](const char* label, const std::string& sentence) {
        add(label, certificate::without_marks(sentence));
    };
    for (const auto& [label, text] : document_lines(record, words)) comment(out, label, text);
    add(record.origin == Origin::supplied_data ? "front.supplied_by" : "tables.laboratory",
        record.laboratory.name);
    for (const auto& [label, text] : gauge_lines(record, words)) comment(out, label, text);
    add("tables.catch", significant(record.gauge.catch_diameter_mm.value, 6) + " mm");
    add("tables.U", words.text("tables.U_value", {{"coverage", numbers.percent(record.plan.coverage)}}));
    say("tables.U", certificate::raised_words(words, record));
    if (kind == "correction") {
        say("tables.formula", certificate::correction_in_one_line(record, words));
        say("tables.formula", certificate::siphon_sentence(record, words));
        say("tables.example", certificate::correction_example(record, words));
        say("tables.range", certificate::correction_range(record, words));
    }
    if (kind == "results") {
        const calib::Limits& limits = record.plan.limits;
        add("tables.limits", limits.rows.empty()
                                 ? words.text("conformity.none")
                                 : words.text("conformity.limits",
                                              {{"name", words.named("translated", limits.name, limits.name)},
                                               {"source", limits.source}}));
        add("tables.conformity", certificate::overall_verdict(words, record));
    }
    if (kind == "runs")
        add("tables.rule", words.text(record.plan.repeat_rule == calib::RepeatRule::discard_extremes_mean
                                          ? "repeats.rule_discard"
                                          : "repeats.rule_mean"));
    add("tables.columns", words.text("tables.columns_value"));
    return out;
}

}  // namespace tipwright::report
