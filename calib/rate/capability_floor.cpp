#include "calib/rate/capability_floor.hpp"

#include <algorithm>
#include <cmath>

#include "calib/statistics/budget.hpp"

namespace tipwright::calib {

namespace {

// How far the flow that came may lie beside the one that was set, and still be of that intensity.
constexpr double about_the_same = 1.1;
// U that misses the CMC by less misses it by rounding in the last bits.
constexpr double by_rounding = 1e-9;

bool is_capability(const BudgetComponent& component) {
    return component.id == capability_id;
}

// A CMC is stated at 95 %; U of a plan that wants another coverage is compared with what it is there.
double at_coverage(double least_U, double coverage) {
    const Uncertain one{0, 1, infinite_dof};
    return least_U * (expanded(one, coverage).k / expanded(one, default_coverage).k);
}

Uncertain with_added(const Uncertain& x, double u) {
    const double variance = x.u * x.u + u * u;
    const double fourth = std::isfinite(x.dof) ? x.u * x.u * x.u * x.u / x.dof : 0;
    return {x.value, std::sqrt(variance), welch_satterthwaite(variance, fourth)};
}

}  // namespace

std::optional<double> least_U_percent(const std::vector<CapabilityPoint>& table,
                                      std::optional<double> intensity_mm_h) {
    if (table.empty()) return std::nullopt;
    if (!intensity_mm_h) {
        return std::max_element(table.begin(), table.end(),
                                [](const CapabilityPoint& a, const CapabilityPoint& b) {
                                    return a.U_percent < b.U_percent;
                                })
            ->U_percent;
    }
    const double at = *intensity_mm_h;
    const auto above = std::find_if(table.begin(), table.end(),
                                    [&](const auto& point) { return point.intensity_mm_h >= at; });
    if (above == table.end()) return table.back().U_percent;
    if (above == table.begin() || above->intensity_mm_h == at) return above->U_percent;
    const CapabilityPoint& below = *(above - 1);
    const double share = (at - below.intensity_mm_h) / (above->intensity_mm_h - below.intensity_mm_h);
    return below.U_percent + share * (above->U_percent - below.U_percent);
}

bool beyond_capability(const std::vector<CapabilityPoint>& table, double intensity_mm_h) {
    return !table.empty() && !(intensity_mm_h * about_the_same >= table.front().intensity_mm_h &&
                               intensity_mm_h <= table.back().intensity_mm_h * about_the_same);
}

double lacking_u(const Uncertain& x, double stated_least_U, double coverage) {
    const double least_U = at_coverage(stated_least_U, coverage);
    if (!(expanded(x, coverage).U < least_U)) return 0;
    // At the upper end u alone, with the least k there is, is enough.
    double low = 0;
    double high = least_U / expanded({0, 1, infinite_dof}, coverage).U;
    for (int i = 0; i < 200 && high - low > 1e-16 * high; ++i) {
        const double middle = (low + high) / 2;
        if (middle == low || middle == high) break;
        (expanded(with_added(x, middle), coverage).U < least_U ? low : high) = middle;
    }
    return high;
}

Uncertain raised(const Uncertain& x, double least_U, double coverage) {
    const double u = lacking_u(x, least_U, coverage);
    return u > 0 ? with_added(x, u) : x;
}

Outcome raise_to_capability(StepResult& step, const std::vector<CapabilityPoint>& table, double coverage,
                            const std::string& run) {
    if (table.empty()) return Done{};
    const StepValues values{
        step.volume_mL.value, step.volume_per_tip_mL.value, step.error_percent.value,
        step.flow_mL_min ? std::optional(step.flow_mL_min->value) : std::nullopt,
        step.reference_intensity_mm_h ? std::optional(step.reference_intensity_mm_h->value) : std::nullopt};
    if (std::erase_if(step.budget, is_capability) > 0)
        if (auto completed = complete_from_budget(step, values, coverage); !completed) return completed;
    const double stated_least_U = *least_U_percent(table, values.reference_intensity_mm_h);
    const double least_U = at_coverage(stated_least_U, coverage);
    step.least_U_percent = least_U;
    const double u = lacking_u(step.error_percent, stated_least_U, coverage);
    if (!(u > 0)) return Done{};
    BudgetComponent component;
    component.id = capability_id;
    component.label = "up to the laboratory's capability (CMC)";
    component.unit = "%";
    component.value = least_U;
    component.u = u;
    // Of e in per cent, by way of the area, with which 1 + e goes: what is claimed is of e, and leaves volume
    // and flow, so the run and every fit, as they were measured.
    component.dlnA = 1 / (100 + step.error_percent.value);
    component.cause = run.empty() ? std::string(capability_id) : std::string(capability_id) + ": " + run;
    step.budget.push_back(std::move(component));
    if (auto completed = complete_from_budget(step, values, coverage); !completed) return completed;
    Expanded& stated = step.error_expanded;
    if (std::abs(stated.U / least_U - 1) < by_rounding) {
        stated.U = least_U;
        stated.k = least_U / step.error_percent.u;
    }
    return Done{};
}

bool is_raised(const StepResult& step) {
    return std::any_of(step.budget.begin(), step.budget.end(), is_capability);
}

double measured_U_percent(const StepResult& step, double coverage) {
    if (!is_raised(step)) return step.error_expanded.U;
    const double scale = 100 + step.error_percent.value;
    double variance = 0;
    double fourth = 0;
    for (const BudgetComponent& component : step.budget) {
        if (is_capability(component)) continue;
        const double part = scale * component.relative_to_e() * component.u;
        const double square = part * part;
        variance += square;
        if (std::isfinite(component.dof)) fourth += square * square / component.dof;
    }
    return expanded({0, std::sqrt(variance), welch_satterthwaite(variance, fourth)}, coverage).U;
}

}  // namespace tipwright::calib
