#include "bench/program/results/adjust_view.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/sentence.hpp"
#include "bench/program/shown.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

std::string with_U(const calib::Uncertain& quantity, double coverage) {
    const auto rounded = calib::round_with_uncertainty(quantity.value, calib::expanded(quantity, coverage).U);
    return rounded.value + " ± " + rounded.uncertainty;
}

const char* direction_of(double turns, bool clockwise_is_more) {
    return (turns > 0) == clockwise_is_more ? "clockwise" : "anticlockwise";
}

// "0.31 ± 0.05 clockwise": seen from above the screw. Where nobody said which way is more, with its sign.
std::string turns_text(const AdjustView& view, const calib::CompartmentAdvice& side) {
    if (!side.turns) return "not known";
    const double coverage = view.record.plan.coverage;
    if (side.turns->value == 0) return "none";
    if (!view.screws.clockwise_is_more) return with_U(*side.turns, coverage);
    calib::Uncertain turns = *side.turns;
    turns.value = std::fabs(turns.value);
    return with_U(turns, coverage) + " " + direction_of(side.turns->value, *view.screws.clockwise_is_more);
}

// To leave a screw as it is has no uncertainty.
std::string change_text(const calib::CompartmentAdvice& side, double coverage) {
    return side.change_mL.value == 0 ? "0 " : with_U(side.change_mL, coverage);
}

// A and B only where somebody knows which is which: else the larger and the smaller.
std::string name_of(const AdjustView& view, std::size_t i) {
    const auto& sides = view.advice.compartments;
    if (sides.size() != 2 || view.sides_known) return sides[i].compartment;
    return sides[i].present_mL.value >= sides[1 - i].present_mL.value ? "larger" : "smaller";
}

std::string limits_text(const calib::PredictedStep& step) {
    if (!step.limits) return "none";
    return calib::fixed(step.limits->low_percent, 1) + " to " + calib::fixed(step.limits->high_percent, 1);
}

std::string verdict_text(calib::Verdict verdict) {
    std::string text(calib::name_of(verdict));
    std::replace(text.begin(), text.end(), '_', ' ');
    return text;
}

void print_curve(const AdjustView& view) {
    const double coverage = view.record.plan.coverage;
    print_to(stdout, "\n%5s %8s%s %14s %16s %13s   %s\n", "step", "mm/h", inches_shown() ? "    in/h" : "",
             "e found, %", "e after, %", "limits, %", "found, after");
    for (const auto& step : view.advice.predicted) {
        print_to(stdout, "%5d %8s%s %15s %17s %13s   %s, %s\n", step.step,
                 calib::fixed(step.intensity_mm_h, 1), inches_column(step.intensity_mm_h),
                 with_U(step.found_percent, coverage), with_U(step.left_percent, coverage), limits_text(step),
                 verdict_text(step.found), verdict_text(step.left));
    }
}

void print_sensitivity(const AdjustView& view) {
    const auto& sensitivity = view.sensitivity;
    if (!sensitivity) return;
    print_to(stdout, "One turn brings %s mL", with_U(sensitivity->mL_per_turn, view.record.plan.coverage));
    if (sensitivity->adjustments > 0)
        print_to(stdout, ", learnt from %d turned screws", sensitivity->adjustments);
    print_to(stdout, ".%s\n",
             sensitivity->widened ? " They disagree; its uncertainty was widened accordingly." : "");
    print_to(
        stdout, "%s\n",
        view.screws.clockwise_is_more
            ? "Clockwise and anticlockwise are as seen from above the screw."
            : "Turns above zero are those by which the compartment holds more; the kind's [adjustment] may "
              "say which way that is: more = \"clockwise\".");
}

}  // namespace

void print_advice(const AdjustView& view) {
    const calib::AdjustmentAdvice& advice = view.advice;
    const double coverage = view.record.plan.coverage;
    print_sentence(stdout, "Gauge " + view.record.identity.serial + ", " + view.record.identity.kind_title +
                               ": advice on the stop screws");
    if (view.sides_known && advice.compartments.size() == 2 && !view.screws.marks.a.empty())
        print_to(stdout, "A %s, B %s\n", view.screws.marks.a, view.screws.marks.b);
    print_to(stdout, "%-12s %18s %18s %10s   %s\n", "compartment", "holds now, mL", "change, mL", "change, %",
             "turns");
    for (std::size_t i = 0; i < advice.compartments.size(); ++i) {
        const auto& side = advice.compartments[i];
        print_to(stdout, "%-12s %19s %19s %10s   %s%s\n", name_of(view, i), with_U(side.present_mL, coverage),
                 change_text(side, coverage), calib::fixed(side.change_percent, 2), turns_text(view, side),
                 side.significant || side.change_mL.value == 0
                     ? ""
                     : "  (within its uncertainty: may stay as it is)");
    }
    print_curve(view);
    print_to(stdout, "\nLargest |e| + U: %s %% now, %s %% expected after.\n",
             calib::fixed(advice.largest_found_percent, 2), calib::fixed(advice.largest_left_percent, 2));
    if (advice.compartments.size() == 2 && !view.sides_known)
        print_sentence(stdout,
                       "Side not known: nobody said which side was up before the first tip, or the tips "
                       "contradict it. Which screw is that of the larger compartment must be found first: "
                       "measure again with --side-up, or fill each side by hand until it tips.");
    for (const auto& remark : advice.remarks) print_sentence(stdout, "Note: " + remark.text);
    print_sensitivity(view);
}

nlohmann::ordered_json advice_for_machines(const AdjustView& view) {
    const calib::AdjustmentAdvice& advice = view.advice;
    const double coverage = view.record.plan.coverage;
    const auto pair = [&](const calib::Uncertain& quantity) {
        return nlohmann::ordered_json{{"value", quantity.value},
                                      {"U", calib::expanded(quantity, coverage).U}};
    };
    nlohmann::ordered_json document = {
        {"ok", true}, {"serial", view.record.identity.serial}, {"sides_known", view.sides_known}};
    if (view.sensitivity) {
        document["mL_per_turn"] = pair(view.sensitivity->mL_per_turn);
        document["screws_learnt_from"] = view.sensitivity->adjustments;
        document["widened"] = view.sensitivity->widened;
    }
    auto& sides = document["compartments"] = nlohmann::ordered_json::array();
    for (std::size_t i = 0; i < advice.compartments.size(); ++i) {
        const auto& side = advice.compartments[i];
        nlohmann::ordered_json row = {{"compartment", name_of(view, i)},
                                      {"present_mL", pair(side.present_mL)},
                                      {"change_mL", pair(side.change_mL)},
                                      {"change_percent", side.change_percent},
                                      {"significant", side.significant}};
        if (side.turns) {
            row["turns"] = pair(*side.turns);
            if (view.screws.clockwise_is_more && side.turns->value != 0)
                row["seen_from_above"] = direction_of(side.turns->value, *view.screws.clockwise_is_more);
        }
        sides.push_back(row);
    }
    auto& steps = document["steps"] = nlohmann::ordered_json::array();
    for (const auto& step : advice.predicted) {
        nlohmann::ordered_json row = {{"step", step.step},
                                      {"intensity_mm_h", step.intensity_mm_h},
                                      {"found_percent", pair(step.found_percent)},
                                      {"expected_percent", pair(step.left_percent)},
                                      {"found", calib::name_of(step.found)},
                                      {"expected", calib::name_of(step.left)}};
        if (step.limits) {
            row["low_percent"] = step.limits->low_percent;
            row["high_percent"] = step.limits->high_percent;
        }
        steps.push_back(row);
    }
    document["largest_found_percent"] = advice.largest_found_percent;
    document["largest_expected_percent"] = advice.largest_left_percent;
    if (advice.can_pass) document["can_pass"] = *advice.can_pass;
    auto& remarks = document["remarks"] = nlohmann::ordered_json::array();
    for (const auto& remark : advice.remarks) remarks.push_back(remark.text);
    return document;
}

void print_checks(const std::vector<calib::PredictionCheck>& checks) {
    print_to(stdout, "\nAs left against what was expected:\n%5s %12s%s %14s %14s %8s\n", "step", "mm/h",
             inches_shown() ? "    in/h" : "", "expected, %", "measured, %", "E_n");
    for (const auto& check : checks)
        print_to(stdout, "%5d %12s%s %14s %14s %8s%s\n", check.step, calib::fixed(check.intensity_mm_h, 1),
                 inches_column(check.intensity_mm_h), calib::fixed(check.predicted_percent, 2),
                 calib::fixed(check.measured_percent, 2), calib::fixed(check.en, 2),
                 check.as_predicted ? "" : "  not as expected");
}

void print_balance(const AdjustView& view, const calib::SideBalance& balance) {
    const double coverage = view.record.plan.coverage;
    const bool a_larger = balance.left_mL.value >= 0;
    const std::string larger = !view.sides_known ? "One compartment" : a_larger ? "A" : "B";
    const std::string smaller = !view.sides_known ? "the other" : a_larger ? "B" : "A";
    const calib::Uncertain difference{std::fabs(balance.left_mL.value), balance.left_mL.u};
    std::string before;
    if (balance.found_mL)
        before = "; as found it was " +
                 with_U({std::fabs(balance.found_mL->value), balance.found_mL->u}, coverage) + " mL";
    print_to(stdout, "\n%s holds %s mL (%s %% of a tip) more than %s%s: %s.\n", larger,
             with_U(difference, coverage), calib::fixed(std::fabs(balance.left_percent), 2), smaller, before,
             balance.unequal ? "THE COMPARTMENTS WERE LEFT UNEQUAL" : "they are as alike as they can be set");
    if (!view.sides_known)
        print_to(stdout,
                 "Side not known: in the run as left nobody said which side was up before the first tip, or "
                 "the tips contradict it.\n");
    if (!balance.unequal) return;
    const double half = difference.value / 2;
    std::string turns;
    if (view.sensitivity) {
        const double each = half / view.sensitivity->mL_per_turn.value;
        turns = " (" + calib::fixed(std::fabs(each), 2) + " turns each";
        if (view.screws.clockwise_is_more)
            turns += std::string(", ") + direction_of(-each, *view.screws.clockwise_is_more) + " and " +
                     direction_of(each, *view.screws.clockwise_is_more);
        turns += ")";
    }
    print_to(stdout, "To set them alike: %s mL less in the larger one, %s mL more in the smaller one%s.\n",
             calib::fixed(half, 3), calib::fixed(half, 3), turns);
}

nlohmann::ordered_json balance_for_machines(const calib::SideBalance& balance, bool left_known,
                                            bool found_known) {
    const auto of_sides = [](bool known, double value) { return known ? value : std::fabs(value); };
    nlohmann::ordered_json out = {{"sides_known", left_known},
                                  {left_known ? "a_minus_b_mL" : "larger_minus_smaller_mL",
                                   of_sides(left_known, balance.left_mL.value)},
                                  {"U_mL", balance.left_U_mL},
                                  {"percent_of_tip", of_sides(left_known, balance.left_percent)},
                                  {"unequal", balance.unequal}};
    if (balance.found_mL)
        out[found_known ? "a_minus_b_found_mL" : "larger_minus_smaller_found_mL"] =
            of_sides(found_known, balance.found_mL->value);
    return out;
}

}  // namespace tipwright::program
