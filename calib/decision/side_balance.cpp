#include "calib/decision/side_balance.hpp"

#include <cmath>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

std::optional<MeanHalfDifference> half_difference(const std::vector<StepResult>& steps) {
    double weight = 0;
    double sum = 0;
    std::vector<Uncertain> parts;
    for (const StepResult& step : steps) {
        if (!step.observation.compartments) continue;
        const CompartmentBalance& sides = *step.observation.compartments;
        if (!(sides.u_percent > 0)) continue;
        const double v = step.volume_per_tip_mL.value;
        parts.push_back({sides.a_excess_percent / 100 * v, sides.u_percent / 100 * v});
        const double w = 1 / (parts.back().u * parts.back().u);
        weight += w;
        sum += w * parts.back().value;
    }
    if (parts.empty()) return std::nullopt;
    MeanHalfDifference result{{sum / weight, 1 / std::sqrt(weight)}};
    double chi2 = 0;
    for (const Uncertain& part : parts) chi2 += std::pow((part.value - result.half_mL.value) / part.u, 2);
    const auto dof = static_cast<double>(parts.size() - 1);
    if (dof > 0 && chi2 > chi_squared_quantile(0.95, dof)) {
        result.widened = true;
        result.half_mL.u *= std::sqrt(chi2 / dof);
    }
    return result;
}

std::optional<SideBalance> side_balance(const std::vector<StepResult>& found,
                                        const std::vector<StepResult>& left, double setting_u_mL,
                                        double coverage) {
    const auto now = half_difference(left);
    if (!now) return std::nullopt;
    SideBalance out;
    if (const auto before = half_difference(found))
        out.found_mL = Uncertain{2 * before->half_mL.value, 2 * before->half_mL.u};
    out.left_mL = {2 * now->half_mL.value, 2 * now->half_mL.u};
    out.left_U_mL = expanded(out.left_mL, coverage).U;
    double mean_mL = 0;
    for (const StepResult& step : left)
        mean_mL += step.volume_per_tip_mL.value / static_cast<double>(left.size());
    out.left_percent = mean_mL > 0 ? 100 * out.left_mL.value / mean_mL : 0;
    const Uncertain explained{0, std::hypot(out.left_mL.u, std::sqrt(2.0) * setting_u_mL)};
    out.unequal = !(std::fabs(out.left_mL.value) <= expanded(explained, coverage).U);
    return out;
}

}  // namespace tipwright::calib
