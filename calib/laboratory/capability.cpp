#include "calib/laboratory/capability.hpp"

#include <cmath>
#include <string>

#include "calib/rate/capability_floor.hpp"
#include "calib/statistics/budget.hpp"

namespace tipwright::calib {

double rounded_up(double U) {
    if (!(U > 0) || !std::isfinite(U)) return U;
    const double unit = std::pow(10.0, std::floor(std::log10(U)) - 1);
    // What is two figures already stays so.
    const double steps = std::ceil(U / unit - 1e-9);
    return unit < 1 ? steps / std::round(1 / unit) : steps * unit;
}

Result<Capability> capability_at(const CapabilityInput& input, double coverage) {
    const std::string where = "capability at " + std::to_string(input.intensity_mm_h) + " mm/h";
    if (input.steps.empty())
        return Fault{FaultCode::too_few_points, "no step", where, "measure the check gauge there"};
    Capability out;
    out.intensity_mm_h = input.intensity_mm_h;
    out.runs = static_cast<int>(input.steps.size());
    const auto n = static_cast<double>(input.steps.size());
    double shared = 0, own = 0, fourth_shared = 0, fourth_own = 0;
    for (const StepResult* step : input.steps) {
        // 1 + e is what budgets are relative to.
        const double scale = 100 + step->error_percent.value;
        for (const BudgetComponent& one : step->budget) {
            if (one.id == capability_id) continue;  // what is claimed so far is not what can be done
            const double part = scale * one.relative_to_e() * one.u;
            (one.cause.empty() ? own : shared) += part * part / n;
            if (std::isfinite(one.dof))
                (one.cause.empty() ? fourth_own : fourth_shared) += std::pow(part, 4) / one.dof / n;
        }
    }
    out.u_shared_percent = std::sqrt(shared);
    out.u_own_percent = std::sqrt(own);
    out.precision_percent = input.precision_sd;
    const double s2 = input.precision_sd * input.precision_sd;
    out.precision_counts = s2 > own;
    const double variance = shared + (out.precision_counts ? s2 : own);
    const double fourth = fourth_shared + (out.precision_counts ? s2 * s2 / input.precision_dof : fourth_own);
    out.u_percent = std::sqrt(variance);
    out.dof = welch_satterthwaite(variance, fourth);
    if (!(out.u_percent > 0) || !std::isfinite(out.u_percent))
        return Fault{FaultCode::not_finite, "the budgets give no uncertainty", where,
                     "evaluate the records again"};
    const Expanded e = expanded({0, out.u_percent, out.dof}, coverage);
    out.k = e.k;
    out.U_percent = rounded_up(e.U);
    return out;
}

}  // namespace tipwright::calib
