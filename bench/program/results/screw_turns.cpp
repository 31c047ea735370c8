#include "bench/program/results/screw_turns.hpp"

#include <charconv>
#include <cmath>

#include "bench/descriptions/adjustment.hpp"
#include "bench/descriptions/descriptions.hpp"
#include "bench/program/results/read_record.hpp"
#include "calib/tips/sides.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

namespace {

constexpr std::size_t earlier_max = 100;
constexpr double per_turn_part = 0.1;  // common practice, no source

std::vector<std::string> parts_of(const std::string& text) {
    std::vector<std::string> parts(1);
    for (const char c : text) {
        if (c == ',')
            parts.emplace_back();
        else
            parts.back() += c;
    }
    return parts;
}

Fault unreadable(const std::string& argument) {
    return {FaultCode::usage, in_quotes(argument) + " is no earlier adjustment", "--earlier",
            "give as-found record, as-left record and the turns of A and B, separated by commas"};
}

}  // namespace

Result<bench::StopScrews> stop_screws_of(const CommonOptions& common, const report::Record& record) {
    if (record.identity.kind.empty()) return bench::StopScrews{};
    // A kind whose file is not at hand says nothing.
    const auto kind = bench::load_gauge(record.identity.kind, common.templates);
    if (!kind) return bench::StopScrews{};
    return bench::parse_stop_screws(kind->kind_text);
}

bool sides_known(const report::Record& record) {
    return record.gauge.compartments != 2 || calib::sides_said(record.deviations) == calib::SidesSaid::known;
}

namespace {

// One pair: what each screw turned brought. The two runs share most of their systematic errors, which cancel
// in the difference; they are not taken out here, so that the uncertainty is on the safe side.
Outcome add_turns(const std::string& argument, const report::Record& gauge_now,
                  std::vector<calib::ScrewTurn>& turns) {
    const auto parts = parts_of(argument);
    if (parts.size() < 3 || parts.size() > 4) return unreadable(argument);
    std::vector<double> turned;
    for (std::size_t i = 2; i < parts.size(); ++i) {
        double value = 0;
        const auto& text = parts[i];
        const auto end = std::from_chars(text.data(), text.data() + text.size(), value);
        if (end.ec != std::errc() || end.ptr != text.data() + text.size() || !(std::abs(value) <= 100))
            return unreadable(argument);
        turned.push_back(value);
    }
    std::vector<std::vector<calib::CompartmentAdvice>> sides;
    std::string serial;
    for (std::size_t i = 0; i < 2; ++i) {
        const auto record = read_sound_record(parts[i]);
        if (!record) return record.fault();
        if (record->gauge.compartments == 2 && !sides_known(*record))
            return Fault{FaultCode::inconsistent, "which side of the bucket is A is not known", parts[i],
                         "learn from runs that were begun with --side-up"};
        if (record->identity.kind != gauge_now.identity.kind)
            return Fault{FaultCode::inconsistent,
                         "a gauge of kind " + in_quotes(record->identity.kind) +
                             " says nothing of one of kind " + in_quotes(gauge_now.identity.kind),
                         parts[i], "give records of gauges of the same kind"};
        if (i == 1 && record->identity.serial != serial)
            return Fault{FaultCode::inconsistent, "the two records are of different gauges",
                         "--earlier " + argument,
                         "give the records of one gauge before and after its adjustment"};
        serial = record->identity.serial;
        const auto advice = calib::advise_adjustment(report::stated_steps(*record), record->gauge);
        if (!advice) return advice.fault();
        sides.push_back(advice->compartments);
    }
    if (sides[0].size() != turned.size() || sides[1].size() != turned.size())
        return Fault{FaultCode::usage,
                     std::to_string(turned.size()) + " turns are given, but the gauge has " +
                         std::to_string(sides[0].size()) + " stop screws",
                     "--earlier " + argument, "give the turns of each, 0 for one that was left"};
    for (std::size_t side = 0; side < turned.size(); ++side) {
        if (turned[side] == 0) continue;
        const calib::Uncertain& before = sides[0][side].present_mL;
        const calib::Uncertain& after = sides[1][side].present_mL;
        turns.push_back({turned[side], {after.value - before.value, std::hypot(before.u, after.u)}});
    }
    return Done{};
}

}  // namespace

Result<std::optional<calib::ScrewSensitivity>> screw_sensitivity(const AdjustOptions& options,
                                                                 const report::Record& found,
                                                                 const bench::StopScrews& of_kind) {
    std::optional<calib::Uncertain> stated;
    if (options.mL_per_turn) {
        // A value somebody knows by heart is taken to a tenth of itself.
        const double u = options.mL_per_turn_u > 0 ? options.mL_per_turn_u
                                                   : per_turn_part * std::fabs(*options.mL_per_turn);
        stated = calib::Uncertain{*options.mL_per_turn, u};
    } else {
        stated = of_kind.mL_per_turn;
    }
    if (options.earlier.size() > earlier_max)
        return Fault{FaultCode::usage,
                     std::to_string(options.earlier.size()) + " earlier adjustments are given", "--earlier",
                     "at most " + std::to_string(earlier_max) + " are read"};
    std::vector<calib::ScrewTurn> turns;
    for (const auto& argument : options.earlier) {
        if (auto added = add_turns(argument, found, turns); !added) return added.fault();
    }
    if (turns.empty() && !stated) return std::optional<calib::ScrewSensitivity>();
    auto learnt = calib::learn_screw_sensitivity(turns, stated);
    if (!learnt) return learnt.fault();
    return std::optional(*learnt);
}

calib::AdjustmentGoal adjustment_goal(const calib::Plan& plan) {
    calib::AdjustmentGoal goal;
    goal.coverage = plan.coverage;
    goal.limits = plan.limits;
    goal.rule = plan.rule;
    goal.guard_band_times_U = plan.guard_band_times_U;
    goal.required_probability = plan.required_probability;
    return goal;
}

Result<calib::AdjustmentAdvice> advise(const report::Record& found, const calib::AdjustmentGoal& goal,
                                       const std::optional<calib::ScrewSensitivity>& sensitivity,
                                       double setting_u_mL) {
    auto advice =
        calib::advise_adjustment(report::stated_steps(found), found.gauge, goal, sensitivity, setting_u_mL);
    const std::vector<int> left_out = report::steps_not_stated(found);
    if (advice && !left_out.empty())
        advice->remarks.push_back({"not_stated",
                                   {{"steps", {left_out.begin(), left_out.end()}, 0}},
                                   "nothing is stated of these steps, and the advice rests on the others: " +
                                       report::step_list(left_out) + " (see the findings of the run)"});
    return advice;
}

}  // namespace tipwright::program
