#include <cmath>

#include "calib/base/rounding.hpp"
#include "calib/decision/adjustment.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/linear_fit.hpp"

namespace tipwright::calib {

Result<ScrewSensitivity> learn_screw_sensitivity(const std::vector<ScrewTurn>& earlier,
                                                 const std::optional<Uncertain>& stated_mL_per_turn) {
    const std::size_t n = earlier.size() + (stated_mL_per_turn ? 1 : 0);
    if (n == 0) {
        return Fault{FaultCode::too_few_points, "no earlier adjustment and no stated value", "stop screws",
                     "turn a screw by a known amount and measure again"};
    }
    Design design{n, 1, {}};
    std::vector<double> change;
    SquareMatrix covariance(n);
    for (std::size_t i = 0; i < earlier.size(); ++i) {
        const std::string where = "adjustment " + std::to_string(i + 1);
        if (!(std::fabs(earlier[i].turns) > 0) || !std::isfinite(earlier[i].turns)) {
            return Fault{FaultCode::bad_value, "no turn was made", where, "leave it out"};
        }
        if (!(earlier[i].change_mL.u > 0) || !std::isfinite(earlier[i].change_mL.value)) {
            return Fault{FaultCode::bad_value, "the change of volume has no uncertainty", where, {}};
        }
        design.values.push_back(earlier[i].turns);
        change.push_back(earlier[i].change_mL.value);
        covariance(i, i) = earlier[i].change_mL.u * earlier[i].change_mL.u;
    }
    if (stated_mL_per_turn) {
        if (!(stated_mL_per_turn->u > 0) || !std::isfinite(stated_mL_per_turn->value)) {
            return Fault{
                FaultCode::bad_value, "the stated volume per turn has no uncertainty", "stop screws",
                "give its standard uncertainty with --per-turn-u, or mL_per_turn_u of the gauge kind"};
        }
        design.values.push_back(1);
        change.push_back(stated_mL_per_turn->value);
        covariance(n - 1, n - 1) = stated_mL_per_turn->u * stated_mL_per_turn->u;
    }
    const auto fit = fit_linear(design, change, covariance);
    if (!fit) return fit.fault();
    ScrewSensitivity result;
    result.adjustments = static_cast<int>(earlier.size());
    result.mL_per_turn = {fit->parameters[0], std::sqrt(fit->covariance(0, 0))};
    result.chi2 = fit->chi2;
    result.dof = fit->dof;
    if (fit->dof > 0 && fit->chi2 > chi_squared_quantile(0.95, fit->dof)) {
        result.consistent = false;
        result.widened = true;
        result.mL_per_turn.u *= std::sqrt(fit->chi2 / fit->dof);
        result.mL_per_turn.dof = fit->dof;
    }
    if (!(std::fabs(result.mL_per_turn.value) > 2 * result.mL_per_turn.u)) {
        return Fault{
            FaultCode::inconsistent,
            "earlier adjustments do not show what a turn does: " + fixed(result.mL_per_turn.value, 4) +
                " mL per turn with u = " + fixed(result.mL_per_turn.u, 4) + " mL",
            "stop screws", "turn by more, or state the volume per turn"};
    }
    return result;
}

}  // namespace tipwright::calib
