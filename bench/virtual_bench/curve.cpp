#include "bench/virtual_bench/curve.hpp"

#include <algorithm>
#include <numbers>

#include "bench/virtual_bench/gauge_mechanism.hpp"
#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/streams.hpp"

namespace tipwright::bench {

namespace {

// Steady flow, from tip to tip after a settling time; water in equals water out over many tips.
double siphon_volume_per_tip_mL(const calib::Gauge& gauge, const GaugeTruth& truth, double flow_mL_s) {
    Mechanism mechanism(gauge, truth, Random(1, stream::siphon_truth));
    std::vector<Movement> started;
    std::vector<Discharge> discharged;
    const double stretch_s = 1000 * mechanism.resting_volume_mL() / flow_mL_s;
    double time_s = 0;
    double first_s = 0;
    double last_s = 0;
    std::uint64_t tips = 0;
    bool settled = false;
    while (tips < GaugeCurve::siphon_tips) {
        mechanism.advance(time_s, stretch_s, flow_mL_s, started, discharged);
        time_s += stretch_s;
        if (settled) tips += started.size();
        if (!started.empty()) {
            last_s = started.back().started_s;
            if (!settled) first_s = last_s;
            settled = true;
        }
        started.clear();
        discharged.clear();
    }
    return (last_s - first_s) * flow_mL_s / static_cast<double>(tips);
}

}  // namespace

GaugeCurve::GaugeCurve(const calib::Gauge& gauge, const GaugeTruth& truth, double true_catch_diameter_mm)
    : gauge_(gauge),
      truth_(truth),
      area_cm2_(std::numbers::pi / 400 * true_catch_diameter_mm * true_catch_diameter_mm),
      resting_mL_(gauge.nominal_tip_mL() * (1 + truth.volume_excess_percent / 100)) {}

GaugeCurve GaugeCurve::with_a_larger(double relative) const {
    GaugeCurve out = *this;
    const double a_share =
        gauge_.compartments == 2 ? (1 + truth_.a_excess_percent / 100) / 2 : 1;  // of the mean volume
    const double larger = 1 + relative * a_share;
    out.truth_.volume_excess_percent = 100 * ((1 + truth_.volume_excess_percent / 100) * larger - 1);
    out.resting_mL_ *= larger;
    return out;
}

double GaugeCurve::volume_per_tip_mL(double flow_mL_s) const {
    if (gauge_.inlet == calib::Inlet::siphon && truth_.siphon_volume_mL > 0) {
        return siphon_volume_per_tip_mL(gauge_, truth_, flow_mL_s);
    }
    // A fraction 1 - s Q of the flow is caught: T = V0 / caught + movement time, v = Q T.
    const double caught_share = 1 - std::min(0.5, truth_.splash_percent_per_mL_s / 100 * flow_mL_s);
    const double movement_s = truth_.movement_time_s + truth_.movement_growth_s2_mL * flow_mL_s;
    return resting_mL_ / caught_share + movement_s * flow_mL_s;
}

double GaugeCurve::error_percent(double flow_mL_s) const {
    return 100 * (area_cm2_ * gauge_.nominal_tip_mm / 10 / volume_per_tip_mL(flow_mL_s) - 1);
}

double GaugeCurve::intensity_mm_h(double flow_mL_s) const {
    return calib::intensity_mm_h(flow_mL_s * 60, area_cm2_);
}

TrueLine GaugeCurve::line(const std::vector<double>& flows_mL_s) const {
    const bool straight = gauge_.inlet == calib::Inlet::straight || truth_.siphon_volume_mL <= 0;
    const bool is_line = truth_.movement_growth_s2_mL == 0 && truth_.splash_percent_per_mL_s == 0;
    if ((straight && is_line) || flows_mL_s.size() < 2) return {resting_mL_, truth_.movement_time_s};
    double mean_q = 0;
    double mean_v = 0;
    std::vector<double> volumes;
    for (const double flow : flows_mL_s) {
        volumes.push_back(volume_per_tip_mL(flow));
        mean_q += flow / static_cast<double>(flows_mL_s.size());
        mean_v += volumes.back() / static_cast<double>(flows_mL_s.size());
    }
    double sqq = 0;
    double sqv = 0;
    for (std::size_t i = 0; i < volumes.size(); ++i) {
        sqq += (flows_mL_s[i] - mean_q) * (flows_mL_s[i] - mean_q);
        sqv += (flows_mL_s[i] - mean_q) * (volumes[i] - mean_v);
    }
    const double slope = sqq > 0 ? sqv / sqq : 0;
    return {mean_v - slope * mean_q, slope};
}

}  // namespace tipwright::bench
