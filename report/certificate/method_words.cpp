#include "report/certificate/method_words.hpp"

#include <algorithm>

#include "calib/rate/one_rate.hpp"
#include "report/certificate/supplied_words.hpp"

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
           unseen_changes(record, words);
}

}  // namespace tipwright::report::certificate
