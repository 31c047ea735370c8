#include "calib/decision/gauge_changes.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include "calib/rate/one_rate.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/tips/shift_checks.hpp"

namespace tipwright::calib {

namespace {

// No gauge's volume per tip grows by more than what comes in this time (common practice, no source).
constexpr double longest_movement_s = 1;

bool same_rate(const StepResult& a, const StepResult& b) {
    if (!a.flow_mL_min || !b.flow_mL_min) return false;
    const auto [lower, higher] = std::minmax(a.flow_mL_min->value, b.flow_mL_min->value);
    return is_one_rate(lower, higher);
}

// Of a table that others made neither the order of the runs nor all that scatters is known.
bool order_known(const StepResult& step) {
    return step.observation.ended != CollectEnd::supplied;
}

RateDiffers difference(const std::vector<StepResult>& steps, std::size_t before, std::size_t again,
                       std::size_t pairs) {
    const StepResult& a = steps[before];
    const StepResult& b = steps[again];
    const double change = (100 + a.error_percent.value) / (100 + b.error_percent.value) - 1;
    // Relative to 1 + e: what the volume per tip is relative to.
    Contributions parts = error_contributions(b, b.observation.name());
    add_scaled(parts, error_contributions(a, a.observation.name()), -1);
    const Uncertain apart = combined(change, parts);
    const double by_flow = longest_movement_s * std::abs(a.flow_mL_min->value - b.flow_mL_min->value) / 60 /
                           a.volume_per_tip_mL.value;
    RateDiffers out{before, again, 100 * std::abs(change), 0, 0};
    if (!(apart.u > 0)) return out;
    out.statistic = (std::abs(change) - allowed_shift_percent / 100 - by_flow) / apart.u;
    out.threshold =
        student_quantile(1 - default_false_alarm_rate / (2 * static_cast<double>(pairs)), apart.dof);
    return out;
}

// What the compartments of these steps say of each other, where nothing puts their order out.
std::optional<ShiftBetween> shifted_between(std::vector<StepResult>& steps, std::vector<std::size_t>& known) {
    std::vector<HalfDifference> halves;
    for (std::size_t k = 0; k < steps.size(); ++k) {
        const StepObservation& seen = steps[k].observation;
        const bool false_tips =
            std::any_of(seen.findings.begin(), seen.findings.end(), [](const Finding& finding) {
                return finding.kind() == FindingKind::phantom_tips ||
                       finding.kind() == FindingKind::changed_gauge;
            });
        if (!seen.compartments || false_tips) continue;
        const double v = steps[k].volume_per_tip_mL.value;
        halves.push_back({seen.compartments->a_excess_percent / 100 * v,
                          seen.compartments->u_percent / 100 * v, seen.compartments->dof, v});
        known.push_back(k);
    }
    return shift_between(halves);
}

}  // namespace

std::optional<RateDiffers> rate_differs(const std::vector<StepResult>& steps) {
    std::vector<std::pair<std::size_t, std::size_t>> pairs;
    for (std::size_t j = 1; j < steps.size(); ++j)
        for (std::size_t i = 0; i < j; ++i)
            if (same_rate(steps[i], steps[j]) && order_known(steps[i]) && order_known(steps[j]))
                pairs.emplace_back(i, j);
    for (auto pair = pairs.rbegin(); pair != pairs.rend(); ++pair) {
        const RateDiffers one = difference(steps, pair->first, pair->second, pairs.size());
        if (one.threshold > 0 && one.statistic > one.threshold) return one;
    }
    return std::nullopt;
}

void doubt_before_changes(std::vector<StepResult>& steps) {
    std::size_t first_sound = 0;
    double percent = 0;
    for (std::size_t k = 0; k < steps.size(); ++k) {
        auto& findings = steps[k].observation.findings;
        std::erase_if(findings,
                      [](const Finding& finding) { return finding.id == FindingId::changed_later; });
        for (const Finding& finding : findings) {
            if (finding.kind() != FindingKind::changed_gauge) continue;
            first_sound = k;
            // Of the mean volume; of a compartment alone it is half.
            percent = finding.number("percent").value_or(0) /
                      (finding.id == FindingId::compartment_shifted ? 2 : 1);
        }
    }
    std::vector<std::size_t> known;
    const auto between = shifted_between(steps, known);
    if (between && known[between->at] > first_sound) {
        first_sound = known[between->at];
        percent = between->percent;
    }
    double statistic = between ? between->statistic : 0;
    double threshold = between ? between->threshold : 0;
    const auto differs = rate_differs(steps);
    if (differs && differs->again > first_sound) {
        first_sound = differs->again;
        percent = differs->percent;
        statistic = differs->statistic;
        threshold = differs->threshold;
    }
    for (std::size_t k = 0; k < first_sound; ++k)
        steps[k].observation.findings.push_back(finding_of(
            FindingId::changed_later,
            {{"percent", percent, 1}, {"at", static_cast<double>(steps[first_sound].observation.step), 0}},
            statistic, threshold, threshold > 0 ? default_false_alarm_rate : 0));
}

// Through three rates a bent line always goes, and proves nothing. Where the straight one is rejected and the
// bent one bends back, so that the volume per tip grows the less the faster the water comes, the gauge has
// changed between two steps: a bucket loses what comes while it moves, which is a straight line (Calder &
// Kidd 1978), a spoon is held down by the inflow, which bends the other way. Asked where the compartments do
// not tell it: of a single one, and of a siphon's slugs, unless a power law (WMO-No. 8) fits. That smaller
// bends do not matter is common practice, no source.
std::optional<BendBack> bends_back(const RateModel& model, const Gauge& gauge) {
    constexpr double matters_percent = 1;
    const bool siphon = gauge.inlet == Inlet::siphon;
    if ((gauge.compartments != 1 && !siphon) || model.rates() != 3 || model.points.size() != 3)
        return std::nullopt;
    const RateCandidate* curve = nullptr;
    for (const RateCandidate& candidate : model.candidates) {
        if (candidate.form == RateForm::curve) curve = &candidate;
        const bool explains = candidate.form == RateForm::constant || candidate.form == RateForm::line ||
                              (siphon && candidate.form == RateForm::power);
        if (explains && candidate.passes) return std::nullopt;
    }
    if (curve == nullptr || curve->parameters.size() < 3) return std::nullopt;
    const Uncertain& bend = curve->parameters[2];
    const double first = model.points[0].flow_mL_s;
    // The second difference of the three: what one of them must be moved by to lie on a line with the others.
    const double moved_mL =
        -bend.value * (model.points[1].flow_mL_s - first) * (model.points[2].flow_mL_s - first);
    BendBack out;
    out.percent = 100 * moved_mL / model.points[1].volume_mL.value;
    if (!(bend.u > 0) || !(out.percent > matters_percent)) return std::nullopt;
    out.statistic = -bend.value / bend.u;
    out.threshold = student_quantile(1 - default_false_alarm_rate, bend.dof);
    if (!(out.statistic > out.threshold)) return std::nullopt;
    return out;
}

void doubt_but_the_last(const BendBack& bend, std::vector<StepResult>& steps) {
    const auto last = static_cast<double>(steps.back().observation.step);
    for (std::size_t k = 0; k + 1 < steps.size(); ++k)
        steps[k].observation.findings.push_back(
            finding_of(FindingId::changed_later, {{"percent", bend.percent, 1}, {"at", last, 0}},
                       bend.statistic, bend.threshold, default_false_alarm_rate));
}

}  // namespace tipwright::calib
