#include "calib/decision/adjustment.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"
#include "calib/decision/adjustment_limits.hpp"
#include "calib/decision/comparison.hpp"
#include "calib/decision/side_balance.hpp"
#include "calib/rate/one_rate.hpp"

namespace tipwright::calib {

namespace {

// What is needed of a step to shift its volume per tip.
struct Shiftable {
    const StepResult* step = nullptr;
    double volume_mL = 0;
    double error_percent = 0;
    double rest_relative_u = 0;  // of 1 + e, what does not come from v: the catch area
    double volume_u_mL = 0;
    double dof = infinite_dof;
};

double reference_intensity(const StepResult& step) {
    return step.reference_intensity_mm_h ? step.reference_intensity_mm_h->value
                                         : step.observation.set_intensity_mm_h;
}

// Limits are those of the intensity that was asked for, as in judge().
double asked_intensity(const StepResult& step) {
    const double set = step.observation.set_intensity_mm_h;
    return set > 0 ? set : reference_intensity(step);
}

std::vector<Shiftable> shiftable(const std::vector<StepResult>& steps) {
    std::vector<Shiftable> result;
    for (const StepResult& step : steps) {
        Shiftable s;
        s.step = &step;
        s.volume_mL = step.volume_per_tip_mL.value;
        s.volume_u_mL = step.volume_per_tip_mL.u;
        s.error_percent = step.error_percent.value;
        s.dof = step.error_percent.dof;
        const double whole = step.error_percent.u / (100 + s.error_percent);
        const double by_volume = s.volume_u_mL / s.volume_mL;
        s.rest_relative_u = std::sqrt(std::max(whole * whole - by_volume * by_volume, 0.0));
        result.push_back(s);
    }
    return result;
}

// e with its uncertainty after v has changed by d, itself known to u_d.
Uncertain after(const Shiftable& s, double d, double u_d) {
    const double volume = s.volume_mL + d;
    const double ratio = (100 + s.error_percent) * s.volume_mL / volume;  // 100 (1 + e')
    const double found = std::hypot(s.volume_u_mL / volume, s.rest_relative_u);
    const double u = ratio * std::hypot(found, u_d / volume);
    const double share = u > 0 ? ratio * found / u : 1;
    return {ratio - 100, u, s.dof / std::pow(share, 4)};
}

class MinMax {
public:
    MinMax(const std::vector<Shiftable>& steps, const AdjustmentGoal& goal) : steps_(steps), goal_(goal) {}

    double worst(double d) const {
        double most = 0;
        for (const Shiftable& s : steps_) most = std::max(most, excess(s, d));
        return most;
    }

    // Largest standard uncertainty, in mL, of 1 + e among the steps that decide at d: what the change is to
    // set right is e, so the catch area counts as the volume does.
    double deciding_u(double d) const {
        const double most = worst(d);
        double u = 0;
        for (const Shiftable& s : steps_) {
            if (excess(s, d) >= most * (1 - 1e-6))
                u = std::max(u, std::hypot(s.volume_u_mL, s.volume_mL * s.rest_relative_u));
        }
        return u;
    }

    // |e'| + U is a valley for every step, so the largest of them is one too: golden section.
    double best(double low, double high) const {
        const double golden = (std::sqrt(5.0) - 1) / 2;
        double a = high - golden * (high - low);
        double b = low + golden * (high - low);
        double at_a = worst(a);
        double at_b = worst(b);
        for (int i = 0; i < 100; ++i) {
            if (at_a <= at_b) {
                high = b;
                b = a;
                at_b = at_a;
                a = high - golden * (high - low);
                at_a = worst(a);
            } else {
                low = a;
                a = b;
                at_a = at_b;
                b = low + golden * (high - low);
                at_b = worst(b);
            }
        }
        return (low + high) / 2;
    }

private:
    double excess(const Shiftable& s, double d) const {
        const Uncertain e = after(s, d, 0);
        return std::fabs(e.value - goal_.target_error_percent) + expanded(e, goal_.coverage).U;
    }

    const std::vector<Shiftable>& steps_;
    const AdjustmentGoal& goal_;
};

std::optional<Uncertain> turns_for(const Uncertain& change_mL,
                                   const std::optional<ScrewSensitivity>& sensitivity) {
    if (!sensitivity) return std::nullopt;
    const Uncertain& s = sensitivity->mL_per_turn;
    const double turns = change_mL.value / s.value;
    return Uncertain{turns, std::hypot(change_mL.u / s.value, turns * s.u / s.value)};
}

Outcome check(const std::vector<StepResult>& found, const AdjustmentGoal& goal,
              const std::optional<ScrewSensitivity>& sensitivity, double setting_u_mL) {
    const auto bad = [](const std::string& what) {
        return Fault{FaultCode::bad_value, what, "adjustment", {}};
    };
    if (found.empty()) {
        return Fault{FaultCode::too_few_points, "no step to advise from", "adjustment",
                     "measure as found first"};
    }
    if (!(goal.coverage > 0 && goal.coverage < 1)) return bad("coverage is not between 0 and 1");
    if (!(std::fabs(goal.target_error_percent) < 50)) return bad("the target error is not within 50 %");
    if (!(setting_u_mL >= 0) || !std::isfinite(setting_u_mL))
        return bad("the setting uncertainty is negative");
    if (sensitivity && !(std::fabs(sensitivity->mL_per_turn.value) > 0))
        return bad("a turn that changes nothing");
    return Done{};
}

void add_compartments(AdjustmentAdvice& advice, const std::vector<StepResult>& found, const Gauge& gauge,
                      const std::optional<ScrewSensitivity>& sensitivity, double coverage) {
    double mean_mL = 0;
    double mean_u = 0;
    for (const StepResult& step : found) {
        mean_mL += step.volume_per_tip_mL.value / static_cast<double>(found.size());
        mean_u = std::max(mean_u, step.volume_per_tip_mL.u);
    }
    const auto sides = gauge.compartments == 2 ? half_difference(found) : std::nullopt;
    const auto add = [&](const std::string& name, double sign) {
        CompartmentAdvice side;
        side.compartment = name;
        const Uncertain half = sides ? sides->half_mL : Uncertain{};
        side.present_mL = {mean_mL + sign * half.value, std::hypot(mean_u, half.u)};
        side.change_mL = {advice.mean_change_mL.value - sign * half.value,
                          std::hypot(advice.mean_change_mL.u, half.u), advice.mean_change_mL.dof};
        side.change_percent = 100 * side.change_mL.value / side.present_mL.value;
        side.turns = turns_for(side.change_mL, sensitivity);
        side.significant = std::fabs(side.change_mL.value) > expanded(side.change_mL, coverage).U;
        advice.compartments.push_back(side);
    };
    if (gauge.compartments != 2) {
        add("spoon", 0);
        return;
    }
    advice.sides_known = sides.has_value();
    add("A", 1);
    add("B", -1);
    if (!sides)
        advice.remarks.push_back(
            {"sides_alike",
             {},
             "compartments A and B could not be told apart: both are to be changed alike"});
    if (sides && sides->widened) {
        advice.remarks.push_back(
            {"sides_widened",
             {},
             "the difference between A and B is not the same at every rate: its uncertainty was widened "
             "accordingly"});
    }
}

std::string listed(const AdjustmentRemark::Number& number) {
    std::string out;
    for (const double value : number.values) add_part(out, fixed(value, number.decimals), ", ");
    return out;
}

void add_remarks(AdjustmentAdvice& advice) {
    const bool any = std::any_of(advice.compartments.begin(), advice.compartments.end(),
                                 [](const CompartmentAdvice& side) { return side.significant; });
    if (advice.can_pass && !*advice.can_pass) {
        AdjustmentRemark::Number rates{"rates", {}, 0};
        for (const PredictedStep& step : advice.predicted)
            if (step.left != Verdict::pass && step.left != Verdict::no_limit)
                rates.values.push_back(step.intensity_mm_h);
        const bool stay = advice.mean_change_mL.value == 0;
        advice.remarks.push_back(
            {stay ? "cannot_pass_stay" : "cannot_pass",
             {rates},
             "no setting of the stop screws brings every step within its limits without bringing another "
             "out: at " +
                 listed(rates) + " mm/h it will not pass" +
                 (stay ? "; the mean of the compartments may stay as it is, no change makes more steps pass"
                       : "")});
    }
    if (!any)
        advice.remarks.push_back(
            {"leave_alone", {}, "no change is larger than its own uncertainty: leave the stop screws alone"});
    AdjustmentRemark::Number worse_at{"rates", {}, 0};
    double now = 0;
    double then = 0;
    for (const PredictedStep& step : advice.predicted) {
        const double found = std::fabs(step.found_percent.value);
        const double left = std::fabs(step.left_percent.value);
        // To the digits it is printed with, and by more than rounding.
        if (!(left > found + 0.01)) continue;
        worse_at.values.push_back(step.intensity_mm_h);
        if (left > then) {
            now = found;
            then = left;
        }
    }
    if (!worse_at.values.empty())
        advice.remarks.push_back({"worse",
                                  {worse_at, {"now", {now}, 2}, {"after", {then}, 2}},
                                  "at " + listed(worse_at) + " mm/h it makes the error worse, at most from " +
                                      fixed(now, 2) + " % to " + fixed(then, 2) + " %"});
    const auto [least, greatest] = std::minmax_element(
        advice.predicted.begin(), advice.predicted.end(),
        [](const auto& a, const auto& b) { return a.left_percent.value < b.left_percent.value; });
    const double spread = greatest->left_percent.value - least->left_percent.value;
    if (spread > greatest->left_U_percent + least->left_U_percent) {
        advice.remarks.push_back({"spread",
                                  {{"spread", {spread}, 1}},
                                  "the error will still change by " + fixed(spread, 1) +
                                      " % over the intensities: only a correction for rate takes that away"});
    }
}

}  // namespace

Result<AdjustmentAdvice> advise_adjustment(const std::vector<StepResult>& found, const Gauge& gauge,
                                           const AdjustmentGoal& goal,
                                           const std::optional<ScrewSensitivity>& sensitivity,
                                           double setting_u_mL) {
    if (Outcome checked = check(found, goal, sensitivity, setting_u_mL); !checked) return checked.fault();
    const auto steps = shiftable(found);
    const double target_mL = gauge.nominal_tip_mL() / (1 + goal.target_error_percent / 100);

    AdjustmentAdvice advice;
    const MinMax valley(steps, goal);
    const LimitRule rule{goal.rule, goal.guard_band_times_U, goal.required_probability, goal.coverage};
    std::vector<std::optional<LimitRow>> rows;
    rows.reserve(steps.size());
    for (const Shiftable& s : steps) rows.push_back(limits_at(goal.limits, asked_intensity(*s.step)));
    if (goal.intensity_mm_h) {
        Uncertain error = found.front().error_percent;
        if (found.size() > 1) {
            const auto curve = error_curve("as found", 0, found);
            if (!curve) return curve.fault();
            const auto at = error_at(*curve, *goal.intensity_mm_h);
            if (!at) return at.fault();
            error = *at;
        }
        const double volume = gauge.nominal_tip_mL() / (1 + error.value / 100);
        advice.mean_change_mL = {target_mL - volume, volume * error.u / (100 + error.value), error.dof};
    } else {
        double low = target_mL - steps.front().volume_mL;
        double high = low;
        for (const Shiftable& s : steps) {
            low = std::min(low, target_mL - s.volume_mL);
            high = std::max(high, target_mL - s.volume_mL);
        }
        double d = valley.best(low, high);
        if (std::any_of(rows.begin(), rows.end(), [](const auto& row) { return row.has_value(); })) {
            const auto error_after = [&](std::size_t i, double change) { return after(steps[i], change, 0); };
            const LimitedChange limited = change_within_limits(rows, rule, error_after, low, high, d);
            d = limited.change_mL;
            advice.can_pass = limited.passes;
        }
        advice.mean_change_mL = {d, d == 0 ? 0 : valley.deciding_u(d)};
    }
    for (const Shiftable& s : steps) {
        if (!(std::fabs(advice.mean_change_mL.value) < s.volume_mL / 2)) {
            return Fault{FaultCode::bad_value,
                         "the compartments would have to change by " + fixed(advice.mean_change_mL.value, 3) +
                             " mL of " + fixed(s.volume_mL, 3) + " mL",
                         "adjustment", "check nominal tip, catch diameter and the tips counted"};
        }
    }

    // A screw that is left alone is not set anew; those of two compartments are turned against each other.
    const bool untouched = advice.mean_change_mL.value == 0 && gauge.compartments < 2;
    double u_set = setting_u_mL / std::sqrt(static_cast<double>(std::max(gauge.compartments, 1)));
    if (sensitivity) {
        u_set = std::hypot(
            u_set, advice.mean_change_mL.value * sensitivity->mL_per_turn.u / sensitivity->mL_per_turn.value);
    }
    for (std::size_t i = 0; i < steps.size(); ++i) {
        const Shiftable& s = steps[i];
        PredictedStep row;
        row.step = s.step->observation.step;
        row.intensity_mm_h = reference_intensity(*s.step);
        row.found_percent = s.step->error_percent;
        row.left_percent = untouched ? row.found_percent : after(s, advice.mean_change_mL.value, u_set);
        row.left_U_percent = expanded(row.left_percent, goal.coverage).U;
        row.limits = rows[i];
        row.found = limit_verdict(row.found_percent, rows[i], rule).verdict;
        row.left = limit_verdict(row.left_percent, rows[i], rule).verdict;
        advice.largest_found_percent =
            std::max(advice.largest_found_percent,
                     std::fabs(row.found_percent.value) + expanded(row.found_percent, goal.coverage).U);
        advice.largest_left_percent =
            std::max(advice.largest_left_percent, std::fabs(row.left_percent.value) + row.left_U_percent);
        advice.predicted.push_back(row);
    }
    add_compartments(advice, found, gauge, sensitivity, goal.coverage);
    add_remarks(advice);
    return advice;
}

Result<std::vector<PredictionCheck>> check_prediction(const AdjustmentAdvice& advice,
                                                      const std::vector<StepResult>& found,
                                                      const std::vector<StepResult>& left, double coverage) {
    const auto with_number = [](const std::vector<StepResult>& steps, int number) {
        return std::find_if(steps.begin(), steps.end(),
                            [&](const StepResult& step) { return step.observation.step == number; });
    };
    // Found and left may follow different plans: what was measured at the same rate belongs together.
    const auto nearest = [](const std::vector<StepResult>& steps, double intensity_mm_h) {
        const auto distance = [&](const StepResult& step) {
            return step.reference_intensity_mm_h
                       ? std::fabs(step.reference_intensity_mm_h->value / intensity_mm_h - 1)
                       : std::numeric_limits<double>::infinity();
        };
        const auto at_that_rate = [&](const StepResult& step) {
            if (!step.reference_intensity_mm_h) return false;
            const auto [lower, higher] = std::minmax(step.reference_intensity_mm_h->value, intensity_mm_h);
            return is_one_rate(lower, higher);
        };
        const auto found_one = std::min_element(
            steps.begin(), steps.end(),
            [&](const StepResult& a, const StepResult& b) { return distance(a) < distance(b); });
        return found_one != steps.end() && at_that_rate(*found_one) ? found_one : steps.end();
    };
    std::vector<PredictionCheck> rows;
    for (const PredictedStep& predicted : advice.predicted) {
        const auto before = with_number(found, predicted.step);
        const auto now = predicted.intensity_mm_h > 0 ? nearest(left, predicted.intensity_mm_h)
                                                      : with_number(left, predicted.step);
        if (before == found.end() || now == left.end()) continue;
        PredictionCheck row;
        row.step = predicted.step;
        row.intensity_mm_h = predicted.intensity_mm_h;
        row.predicted_percent = predicted.left_percent.value;
        row.measured_percent = now->error_percent.value;
        row.en =
            en_number(now->error_percent, predicted.left_percent, coverage, error_covariance(*before, *now));
        row.as_predicted = std::fabs(row.en) <= 1;
        rows.push_back(row);
    }
    if (rows.empty()) {
        return Fault{FaultCode::too_few_points, "no intensity was measured both as found and as left",
                     "adjustment", "measure at the same intensities again after adjusting"};
    }
    return rows;
}

}  // namespace tipwright::calib
