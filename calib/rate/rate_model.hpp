// RateModel: how volume per tip depends on flow. Candidates, simplest first:
//   constant  v = V0
//   line      v = V0 + tau Q                 (Calder & Kidd 1978; Marsalek 1981; Humphrey et al. 1997)
//   curve     v = V0 + tau Q + c Q^2         (spoon held down by the inflow)
//   power     v = alpha Q^beta, which is I_ref = a I_ind^b with b = 1/(1 - beta)  (WMO-No. 8 form)
// All fitted to (Q, v) of the steps with their full covariance (ISO/TS 28037:2010 clause 10 and its
// polynomial extension). The simplest that passes the chi-squared test (clause 6.3), made an F test because
// variances are estimates, is chosen; if none passes, the simplest that is not clearly rejected with its u
// widened; beyond that, the point table with monotone interpolation stands and says so. From two rates only
// the line between them, with a bent one as part of u.
// Units: V0 mL, tau s, c s2/mL, alpha mL (at 1 mL/s), beta 1; Q enters in mL/s.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

enum class RateForm { constant, line, curve, power, table };

struct RateCandidate {
    RateForm form = RateForm::constant;
    // V0, tau, c or alpha, beta. A simpler form that was rejected, but not clearly (99.9 %), may still be the
    // true one: the distance to it is part of the chosen form's u and covariance.
    std::vector<Uncertain> parameters;
    std::string expression;                       // "v = 6.213 mL + 0.452 s · Q", for people
    std::vector<std::vector<double>> covariance;  // of the parameters
    double chi2 = 0;
    double dof = 0;
    double chi2_limit = 0;  // 95 % quantile, with variances as estimated
    bool passes = false;
    std::vector<double> residual_percent;  // v - fit in per cent of v, per step

    // v at a flow (mL/s) with the standard uncertainty of the fit alone.
    Uncertain volume_at(double flow_mL_s) const;
};

struct RatePoint {  // one step, for the table form
    double flow_mL_s = 0;
    Uncertain volume_mL;
};

struct RateModel {
    std::vector<RateCandidate> candidates;  // every one tried, also those that failed
    RateForm chosen = RateForm::constant;
    std::vector<RatePoint> points;  // ascending flow
    double flow_min_mL_s = 0;       // range of the fit
    double flow_max_mL_s = 0;
    std::string reason;  // why this one, in a sentence

    const RateCandidate* chosen_candidate() const;  // null for the table
    // How many rates the points are of; flows within a twentieth are one.
    int rates() const;
    // v and its standard uncertainty at a flow (mL/s); beyond the points a table keeps its end value.
    Uncertain volume_at(double flow_mL_s) const;
    // dv/dQ in s.
    double slope_at(double flow_mL_s) const;
};

// Needs the flow of every step. Fault: too_few_points, bad_covariance, not_finite.
Result<RateModel> fit_rate_model(const std::vector<StepResult>& steps);

// Parameters by name, in the order of RateCandidate::parameters: {"V0", "mL"}, {"tau", "s"}, ...
struct ParameterName {
    std::string symbol;
    std::string unit;
};
std::vector<ParameterName> parameter_names(RateForm form);
// "constant", "line", ...: for files and people.
std::string name_of(RateForm form);

}  // namespace tipwright::calib
