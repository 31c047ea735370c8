#include "report/certificate/method_words.hpp"

#include <algorithm>

#include "calib/rate/one_rate.hpp"
#include "calib/tips/sides.hpp"
#include "report/certificate/concession_words.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/supplied_words.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report::certificate {

namespace {

bool measured_on_bench(const Record& record) {
    const auto& steps = record.evaluation.steps;
    const bool timed = std::all_of(steps.begin(), steps.end(), [](const calib::StepResult& step) {
        return step.observation.duration_s.has_value();
    });
    return record.origin != Origin::supplied_data && timed;
}

// A bucket that changes between two steps shows it in its compartments (calib/tips/shift_checks.hpp); a
// single one only where a rate is measured again. Either is said.
std::string unseen_changes(const Record& record, const Words& words) {
    const auto& steps = record.evaluation.steps;
    if (record.gauge.compartments != 1 || steps.size() < 2) return {};
    for (std::size_t i = 0; i < steps.size(); ++i) {
        if (!steps[i].repeats.empty()) return {};
        for (std::size_t k = 0; k < i; ++k) {
            const auto [lower, higher] =
                std::minmax(steps[i].observation.set_intensity_mm_h, steps[k].observation.set_intensity_mm_h);
            if (!(lower > 0 && calib::is_one_rate(lower, higher))) continue;
            // Of a gauge that changed the reservations speak.
            if (record.statement.has(calib::ReservationId::gauge_changed)) return {};
            return " " +
                   words.text("method.returned", {{"first", std::to_string(steps[k].observation.step)},
                                                  {"again", std::to_string(steps[i].observation.step)}});
        }
    }
    return " " + words.text("method.no_return");
}

}  // namespace

std::string method_in_brief(const Record& record, const Words& words) {
    return measured_on_bench(record) ? words.text("method.bench") + unseen_changes(record, words)
                                     : supplied_words(words, record.method);
}

std::string method_words(const Record& record, const Words& words) {
    if (!measured_on_bench(record)) return supplied_words(words, record.method);
    // As bench/run/collect.cpp closes collects: what the certificate says must be what was done.
    const bool siphon = record.gauge.inlet == calib::Inlet::siphon;
    std::string paragraph = words.text("method.bench") + " " +
                            words.text(siphon                           ? "method.collect_siphon"
                                       : record.gauge.compartments == 2 ? "method.collect_even"
                                                                        : "method.collect");
    int repeats = 1;
    for (const calib::PlanStep& step : record.plan.steps) repeats = std::max(repeats, step.repeats);
    if (repeats > 1) {
        const bool discard = record.plan.repeat_rule == calib::RepeatRule::discard_extremes_mean;
        paragraph += " " + words.text(discard ? "method.repeats_discard" : "method.repeats_mean",
                                      {{"repeats", std::to_string(repeats)}});
    }
    return paragraph + " " +
           words.text("method.weighing", {{"wetting", std::to_string(record.plan.wetting_tips)},
                                          {"settle", std::to_string(record.plan.settle_tips)}}) +
           // Of one point that is left there is no fit.
           (record.evaluation.model ? " " + words.text("method.fit") : "") + " " +
           words.text("method.uncertainty") + unseen_changes(record, words);
}

bool is_deviation(const calib::Finding& finding) {
    return finding.kind() == calib::FindingKind::environment || finding.id == calib::FindingId::target_missed;
}

// What the run says of its sides, or of supplied data, in the language of the document; what a person wrote
// stays as it is.
std::string deviation_words(const Words& words, const std::string& text) {
    if (const auto known = calib::read_sides_known(text)) {
        std::string mark;
        if (!known->mark_a.empty())
            mark = " (" + words.named("translated", known->mark_a, known->mark_a) + ")";
        return words.text("method.sides_known", {{"mark", mark}, {"up", std::string(1, known->up)}});
    }
    if (const auto step = calib::read_sides_turned(text))
        return words.text("method.sides_turned", {{"step", std::to_string(*step)}});
    if (text == calib::sides_moved_text()) return words.text("method.sides_moved");
    return supplied_words(words, text);
}

std::vector<std::string> deviations_words(const Record& record, const Words& words) {
    std::vector<std::string> out;
    for (const std::string& text : record.deviations) out.push_back(deviation_words(words, text));
    for (const Concession& concession : record.concessions)
        out.push_back(concession_words(words, concession));
    for (const calib::StepResult& step : record.evaluation.steps)
        for (const std::string& remark : step.observation.remarks)
            out.push_back(words.text("method.remark",
                                     {{"step", std::to_string(step.observation.step)}, {"text", remark}}));
    if (record.completeness == Completeness::incomplete)
        for (const std::string& sentence :
             reservation_sentences(words, {{calib::ReservationId::incomplete, 0, calib::Claim::reserved}},
                                   record.statement.steps.size(), record.plan.steps.size()))
            out.push_back(sentence);
    std::vector<calib::Finding> findings = findings_of(record);
    std::erase_if(findings, [](const calib::Finding& finding) { return !is_deviation(finding); });
    for (const std::string& text : findings_words(words, findings)) out.push_back(text + ".");
    const std::vector<int> withheld = record.statement.withheld_steps();
    if (!withheld.empty()) out.push_back(steps_words(words, withheld, words.text("method.withheld")));
    return out;
}

}  // namespace tipwright::report::certificate
