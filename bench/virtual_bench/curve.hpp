// GaugeCurve: the true rate dependence of one virtual gauge, for tests to compare results with.
//   straight inlet: v(Q) = V0 / (1 - s Q) + (tau + g Q) Q, exact (s: splash per mL/s, g: growth)
//   siphon: from a run of the same mechanism over many tips in perfectly steady flow
//   e(Q) = A h_n / v(Q) - 1 with the true catch area A
// Volumes mL, flows mL/s, times s, areas cm2, errors per cent.
#pragma once

#include <cstdint>
#include <vector>

#include "bench/virtual_bench/truth.hpp"
#include "calib/base/gauge.hpp"

namespace tipwright::bench {

struct TrueLine {
    double v0_mL = 0;
    double tau_s = 0;
};

class GaugeCurve {
public:
    GaugeCurve(const calib::Gauge& gauge, const GaugeTruth& truth, double true_catch_diameter_mm);

    // The same gauge after compartment A (of a spoon, the spoon) began to tip at so much more, relative.
    GaugeCurve with_a_larger(double relative) const;

    double catch_area_cm2() const { return area_cm2_; }
    double resting_volume_mL() const { return resting_mL_; }
    // Mean volume that passes per tip in steady flow.
    double volume_per_tip_mL(double flow_mL_s) const;
    double error_percent(double flow_mL_s) const;
    double intensity_mm_h(double flow_mL_s) const;
    // V0 and tau; for a siphon, splash or a growing movement time the straight line that fits v at these
    // flows best (least squares, equal weights).
    TrueLine line(const std::vector<double>& flows_mL_s) const;
    // Tips a siphon's mean is taken over: relative error about the tip scatter over its square root.
    static constexpr std::uint64_t siphon_tips = 100000;

private:
    calib::Gauge gauge_;
    GaugeTruth truth_;
    double area_cm2_;
    double resting_mL_;
};

}  // namespace tipwright::bench
