#include "calib/decision/adjustment_limits.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <tuple>

namespace tipwright::calib {

namespace {

constexpr int changes_tried = 800;
constexpr double as_far_out_percent = 1e-9;  // rounding

double widest_u_times(const LimitRule& rule) {
    switch (rule.rule) {
        case DecisionRule::simple_acceptance:
            return 0;
        case DecisionRule::guard_band:
            return rule.guard_band_times_U;
        case DecisionRule::conformance_probability:
            break;
    }
    return 0;
}

}  // namespace

std::optional<LimitRow> limits_at(const Limits& limits, double intensity_mm_h) {
    for (const LimitRow& row : limits.rows)
        if (intensity_mm_h >= row.from_mm_h && intensity_mm_h <= row.to_mm_h) return row;
    return std::nullopt;
}

LimitVerdict limit_verdict(const Uncertain& error_percent, const std::optional<LimitRow>& row,
                           const LimitRule& rule) {
    if (!row) return {};
    const double U = expanded(error_percent, rule.coverage).U;
    LimitVerdict out;
    const StepConformity judged = judge_error(error_percent, U, row->low_percent, row->high_percent,
                                              rule.rule, rule.required_probability, rule.guard_band_times_U);
    out.verdict = judged.verdict;
    if (out.verdict == Verdict::pass) return out;
    const double guard = widest_u_times(rule) * U;
    const double outside = std::max(error_percent.value - (row->high_percent - guard),
                                    row->low_percent + guard - error_percent.value);
    // Where a probability decides, the way out is counted in it: what lacks of it, as a part of U.
    const double lacks = rule.rule == DecisionRule::conformance_probability
                             ? std::max(rule.required_probability - judged.conformance_probability, 0.0) * U
                             : 0;
    out.beyond_percent = std::max(outside, 0.0) + lacks;
    return out;
}

LimitedChange change_within_limits(const std::vector<std::optional<LimitRow>>& rows, const LimitRule& rule,
                                   const std::function<Uncertain(std::size_t, double)>& error_after,
                                   double low, double high, double preferred) {
    std::vector<LimitVerdict> now;
    for (std::size_t i = 0; i < rows.size(); ++i)
        now.push_back(limit_verdict(error_after(i, 0), rows[i], rule));
    using Score = std::tuple<int, double, double>;  // steps that do not pass, how far beyond, largest |e| + U
    const auto score = [&](double change) -> std::optional<Score> {
        int failing = 0;
        double beyond = 0;
        double largest = 0;
        for (std::size_t i = 0; i < rows.size(); ++i) {
            const Uncertain error = error_after(i, change);
            largest = std::max(largest, std::fabs(error.value) + expanded(error, rule.coverage).U);
            const LimitVerdict then = limit_verdict(error, rows[i], rule);
            if (then.verdict == Verdict::no_limit || then.verdict == Verdict::pass) continue;
            if (now[i].verdict == Verdict::pass ||
                then.beyond_percent > now[i].beyond_percent + as_far_out_percent)
                return std::nullopt;
            ++failing;
            beyond += then.beyond_percent;
        }
        return Score{failing, beyond, largest};
    };
    double best = 0;
    const Score untouched = *score(0);
    Score least = untouched;
    const auto look = [&](double change) {
        const auto one = score(change);
        if (!one || !(*one < least)) return;
        least = *one;
        best = change;
    };
    look(preferred);
    for (int i = 0; i <= changes_tried; ++i) look(low + (high - low) * i / changes_tried);
    // A change by which no more steps pass would only bring those that do closer to their limits.
    const bool some_pass = std::any_of(now.begin(), now.end(),
                                       [](const LimitVerdict& one) { return one.verdict == Verdict::pass; });
    if (some_pass && std::get<0>(untouched) > 0 && std::get<0>(least) == std::get<0>(untouched)) best = 0;
    return {best, std::get<0>(least) == 0};
}

}  // namespace tipwright::calib
