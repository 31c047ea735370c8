// DepthCurve: depth of rain behind one tip over the interval since the tip before, from a fitted rate model,
// and what its calibration leaves open.
//   v(Q) = Q T gives Q;  h(T) = 10 v / A                      (T = V0/Q + tau: Calder & Kidd 1978; Marsalek
//   1981) dh = 10/A dv_theta / (1 - v'(Q)/T)                        (at a given interval a larger volume is a
//   larger flow)
// All tips share the calibration, so its uncertainty is kept as modes: h = h0 + sum z_k m_k(T), the z_k
// independent with mean 0 and variance 1 (the columns of a Cholesky factor of the parameters' covariance, and
// one for what the choice of the form leaves open). Sums of modes over tips give what is common to a total
// exactly; the rim is apart, the same relative error of every depth. Units mm, mL, s, cm2. Of a
// siphon the model is joined with what is known of siphons (siphon_line.hpp): the certificate's constant is a
// mean over its rates. Below the
// calibrated flows polynomials in Q go on to V0; a power law and a table keep their end value, with the step
// to their straight continuation as half-width (JCGM 100:2008 4.3.7). Above, polynomials go on with what v
// rises beyond its end as half-width; at most 3 times the highest flow. Error of the table look-up: below
// 1e-6 of h (tests/calib/rain/depth_curve_test.cpp).
#pragma once

#include <array>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/rate/rate_model.hpp"

namespace tipwright::calib {

inline constexpr int curve_modes = 4;

struct TipDepth {
    double mm = 0;
    std::array<double, curve_modes> modes{};  // mm
};

class DepthCurve {
public:
    // Faults: too_few_points (a model without flows), not_finite, bad_covariance.
    static Result<DepthCurve> make(const RateModel& model, const Gauge& gauge);

    // interval_s > 0; infinite: the tip that fills at no flow. Shorter than the curve reaches: its end.
    TipDepth at(double interval_s) const;
    double mm_at(double interval_s) const;
    double shortest_s() const { return shortest_s_; }  // of the calibration
    double longest_s() const { return longest_s_; }
    double end_s() const { return 1 / rate_end_; }  // shortest interval the curve is continued to
    double rim_relative_u() const { return rim_relative_u_; }
    double dof() const { return dof_; }

private:
    std::vector<TipDepth> nodes_;  // over 1/T, from 0 in equal steps
    double rate_end_ = 0;
    double per_rate_ = 0;  // nodes for 1/s
    double shortest_s_ = 0;
    double longest_s_ = 0;
    double rim_relative_u_ = 0;
    double dof_ = infinite_dof;
};

}  // namespace tipwright::calib
