#include "report/certificate/method_words.hpp"

#include <algorithm>

namespace tipwright::report::certificate {

namespace {

bool measured_on_bench(const Record& record) {
    const auto& steps = record.evaluation.steps;
    const bool timed = std::all_of(steps.begin(), steps.end(), [](const calib::StepResult& step) {
        return step.observation.duration_s.has_value();
    });
    return record.origin != Origin::supplied_data && timed;
}

}  // namespace

std::string method_in_brief(const Record& record, const Words& words) {
    return measured_on_bench(record) ? words.text("method.bench") : record.method;
}

std::string method_words(const Record& record, const Words& words) {
    if (!measured_on_bench(record)) return record.method;
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
                                          {"settle", std::to_string(record.plan.settle_tips)}});
}

}  // namespace tipwright::report::certificate
