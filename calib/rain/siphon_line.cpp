#include "calib/rain/siphon_line.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "calib/base/square.hpp"

namespace tipwright::calib {

namespace {

// Of the highest flow over the siphon's: 1/2 to 1.
constexpr double flow_share = 0.75;
constexpr double flow_share_half_width = 0.25;
// The stated tail's standard deviation, which goes with p^(3/2), has 50 degrees of freedom: known within a
// tenth (JCGM 100:2008 E.4.3), so that p^2 is within 4/3 of that.
constexpr double tail_relative_u = 0.1 * 4 / 3;

// With so many parameters and their whole covariance.
bool is_of(const RateCandidate& candidate, std::size_t count) {
    return candidate.parameters.size() == count && candidate.covariance.size() == count &&
           std::all_of(candidate.covariance.begin(), candidate.covariance.end(),
                       [&](const std::vector<double>& row) { return row.size() == count; });
}

}  // namespace

std::optional<RateCandidate> siphon_line(const RateModel& model, const Gauge& gauge) {
    const double p = gauge.siphon_tail_percent / 100;
    if (gauge.inlet != Inlet::siphon || !(p > 0) || !(gauge.siphon_volume_mL > 0)) return std::nullopt;
    if (model.chosen != RateForm::constant && model.chosen != RateForm::line) return std::nullopt;
    if (model.chosen_candidate() == nullptr) return std::nullopt;
    const auto seen = std::find_if(model.candidates.begin(), model.candidates.end(),
                                   [](const RateCandidate& one) { return one.form == RateForm::line; });
    if (seen == model.candidates.end() || !is_of(*seen, 2)) return std::nullopt;
    const double slope_variance = seen->covariance[1][1];
    if (!(slope_variance > 0)) return std::nullopt;
    const double mean_flow = -seen->covariance[0][1] / slope_variance;
    const double mean_volume = seen->parameters[0].value + seen->parameters[1].value * mean_flow;
    // The constant's may have been widened for what the points scatter.
    const RateCandidate* chosen = model.chosen_candidate();
    if (!is_of(*chosen, model.chosen == RateForm::constant ? 1 : 2)) return std::nullopt;
    double volume_variance = seen->covariance[0][0] - square(seen->covariance[0][1]) / slope_variance;
    if (model.chosen == RateForm::constant)
        volume_variance = std::max(volume_variance, chosen->covariance[0][0]);
    if (!(volume_variance >= 0)) return std::nullopt;

    const double highest_flow =
        std::max(model.flow_max_mL_s, gauge.max_intensity_mm_h / 3600 * gauge.catch_area_cm2().value / 10);
    const double calculated =
        square(p * mean_volume) / 2 / gauge.siphon_volume_mL * flow_share / highest_flow;
    const double calculated_variance =
        square(calculated) * (square(flow_share_half_width / flow_share) / 3 + square(tail_relative_u));
    const double variance = 1 / (1 / calculated_variance + 1 / slope_variance);
    const double slope =
        variance * (calculated / calculated_variance + seen->parameters[1].value / slope_variance);

    RateCandidate out;
    out.form = RateForm::line;
    const double dof = chosen->parameters.front().dof;
    const double at_rest_variance = volume_variance + square(mean_flow) * variance;
    out.parameters = {{mean_volume - slope * mean_flow, std::sqrt(at_rest_variance), dof},
                      {slope, std::sqrt(variance), dof}};
    out.covariance = {{at_rest_variance, -mean_flow * variance}, {-mean_flow * variance, variance}};
    return out;
}

}  // namespace tipwright::calib
