#include "calib/tips/tip_checks.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

// A slope needs a plateau of at least this length.
constexpr double slope_plateau_s = 20;
// A plateau whose readings lie further apart was disturbed.
constexpr double quiet_plateau_g = 0.2;

struct LineFit {
    double intercept = 0;  // at the weighted mean of x
    double slope = 0;
    double u_intercept = 0;  // from the scatter about the line
    double u_slope = 0;
    double dof = 0;
};

// y on x with relative weights; the scale comes from the residuals.
LineFit weighted_line(std::span<const double> x, std::span<const double> y, std::span<const double> weight,
                      double parameters_beside_slope) {
    double sum = 0;
    double mean_x = 0;
    double mean_y = 0;
    for (std::size_t k = 0; k < x.size(); ++k) {
        sum += weight[k];
        mean_x += weight[k] * x[k];
        mean_y += weight[k] * y[k];
    }
    mean_x /= sum;
    mean_y /= sum;
    double xx = 0;
    double xy = 0;
    for (std::size_t k = 0; k < x.size(); ++k) {
        xx += weight[k] * (x[k] - mean_x) * (x[k] - mean_x);
        xy += weight[k] * (x[k] - mean_x) * (y[k] - mean_y);
    }
    LineFit fit;
    fit.intercept = mean_y;
    fit.slope = xx > 0 ? xy / xx : 0;
    double chi2 = 0;
    for (std::size_t k = 0; k < x.size(); ++k) {
        const double residual = y[k] - mean_y - fit.slope * (x[k] - mean_x);
        chi2 += weight[k] * residual * residual;
    }
    fit.dof = static_cast<double>(x.size()) - parameters_beside_slope - 1;
    const double scale = fit.dof > 0 ? chi2 / fit.dof : 0;
    fit.u_intercept = std::sqrt(scale / sum);
    fit.u_slope = xx > 0 ? std::sqrt(scale / xx) : 0;
    return fit;
}

}  // namespace

std::optional<Finding> check_dead_compartment(double volume_per_tip_mL, std::optional<double> flow_mL_s,
                                              const Gauge& gauge, double false_alarm_rate) {
    if (gauge.compartments != 2) return std::nullopt;
    constexpr double movement_s = 0.45;
    constexpr double movement_u_s = 0.15;
    constexpr double nominal_relative_u = 0.12;
    constexpr double least_ratio = 1.5;
    const double nominal_mL = gauge.nominal_tip_mL();
    const double flow = flow_mL_s.value_or(0);
    const double ratio = (volume_per_tip_mL - movement_s * flow) / nominal_mL;
    const double statistic = (ratio - 1) / std::hypot(nominal_relative_u, movement_u_s * flow / nominal_mL);
    const double threshold = normal_quantile(1 - false_alarm_rate);
    if (!(statistic > threshold && ratio > least_ratio)) return std::nullopt;
    return finding_of(FindingId::compartment_uncounted, {{"ratio", ratio, 2}}, statistic, threshold,
                      false_alarm_rate);
}

std::optional<Finding> check_funnel_trend(const TipSeries& series, double allowed_percent_h,
                                          double false_alarm_rate) {
    const std::size_t n = series.interval_s.size();
    if (!series.regular || n < 8) return std::nullopt;
    // Each compartment about its own mean, so that their difference is no scatter.
    std::array<double, 2> sum{};
    std::array<double, 2> count{};
    const auto sides = static_cast<std::size_t>(series.compartments);
    std::vector<double> hours;
    std::vector<double> logs;
    double time_s = 0;
    for (std::size_t k = 0; k < n; ++k) {
        hours.push_back((time_s + series.interval_s[k] / 2) / 3600);
        time_s += series.interval_s[k];
        const double flow = series.flow.empty() ? 1 : series.flow[k];
        logs.push_back(std::log(series.interval_s[k] * flow));
        sum[k % sides] += logs[k];
        ++count[k % sides];
    }
    for (std::size_t k = 0; k < n; ++k) logs[k] -= sum[k % sides] / count[k % sides];
    const std::vector<double> equal(n, 1.0);
    const LineFit fit = weighted_line(hours, logs, equal, static_cast<double>(sides));
    if (!(fit.u_slope > 0)) return std::nullopt;
    const double statistic = (fit.slope - allowed_percent_h / 100) / fit.u_slope;
    const double threshold = student_quantile(1 - false_alarm_rate, fit.dof);
    if (!(statistic > threshold)) return std::nullopt;
    const double whole_percent = 100 * (std::exp(fit.slope * time_s / 3600) - 1);
    return finding_of(FindingId::funnel_slows, {{"percent", whole_percent, 1}}, statistic, threshold,
                      false_alarm_rate);
}

std::optional<Finding> check_compartments(const CompartmentBalance& balance, double allowed_percent,
                                          double false_alarm_rate) {
    if (!(balance.u_percent > 0) || !(balance.dof > 0)) return std::nullopt;
    const double size = std::abs(balance.a_excess_percent);
    const double statistic = (size - allowed_percent) / balance.u_percent;
    const double threshold = student_quantile(1 - false_alarm_rate, balance.dof);
    if (!(statistic > threshold)) return std::nullopt;
    // Of the larger over the smaller, each about the mean of both.
    const double more = 100 * ((100 + size) / (100 - size) - 1);
    return finding_of(
        balance.a_excess_percent > 0 ? FindingId::compartment_a_larger : FindingId::compartment_b_larger,
        {{"percent", more, 1}}, statistic, threshold, false_alarm_rate);
}

std::vector<LossPoint> losses_between_tips(std::span<const Tip> tips, std::span<const WeightPoint> weights,
                                           const BenchMetrology& bench) {
    std::vector<LossPoint> losses;
    const double settle_s = bench.discharge_delay_s + 2 * arrived_after_lags * bench.discharge_lag_s;
    std::size_t next = 0;
    for (std::size_t k = 0; k + 1 < tips.size(); ++k) {
        const double from_s = tips[k].time_s + settle_s;
        const double to_s = tips[k + 1].time_s - guard_before_next_tip_s;
        if (!(to_s - from_s >= slope_plateau_s)) continue;
        std::vector<double> hours;
        std::vector<double> mass_g;
        while (next < weights.size() && weights[next].time_s < from_s) ++next;
        for (; next < weights.size() && weights[next].time_s <= to_s; ++next) {
            hours.push_back((weights[next].time_s - from_s) / 3600);
            mass_g.push_back(weights[next].mass_g);
        }
        if (hours.size() < 10) continue;
        // The vessel was drained, tared or touched: no loss by evaporation.
        const auto [least, most] = std::minmax_element(mass_g.begin(), mass_g.end());
        if (*most - *least > std::max(quiet_plateau_g, 20 * bench.balance.repeatability_g)) continue;
        const std::vector<double> equal(hours.size(), 1.0);
        const LineFit fit = weighted_line(hours, mass_g, equal, 1);
        // By length and number alone: equal noise on every plateau, u ~ 1 / (length sqrt(number)).
        const double length_h = (to_s - from_s) / 3600;
        losses.push_back(
            {(from_s + to_s) / 2, -fit.slope,
             bench.balance.repeatability_g * std::sqrt(12.0 / static_cast<double>(hours.size())) / length_h});
    }
    return losses;
}

std::vector<Finding> check_evaporation(std::span<const LossPoint> losses, const Uncertain& stated_g_h,
                                       double allowed_g_h, double false_alarm_rate) {
    std::vector<Finding> out;
    if (losses.size() < 5) return out;
    std::vector<double> hours;
    std::vector<double> loss;
    std::vector<double> weight;
    for (const LossPoint& point : losses) {
        if (!(point.u_g_h > 0)) return out;
        hours.push_back(point.time_s / 3600);
        loss.push_back(point.loss_g_h);
        weight.push_back(1 / (point.u_g_h * point.u_g_h));
    }
    const LineFit fit = weighted_line(hours, loss, weight, 1);
    if (!(fit.u_slope > 0)) return out;
    const double span_h = hours.back() - hours.front();
    const double change = fit.slope * span_h;
    const double drift = (std::abs(change) - allowed_g_h) / (fit.u_slope * span_h);
    // Two-sided, and half of the rate for each of the two tests.
    const double drift_limit = student_quantile(1 - false_alarm_rate / 4, fit.dof);
    if (drift > drift_limit)
        out.push_back(finding_of(FindingId::evaporation_drift, {{"change_g_h", change, 2}}, drift,
                                 drift_limit, false_alarm_rate / 2));
    const double u = std::hypot(fit.u_intercept, stated_g_h.u);
    // Degrees of freedom of the difference, JCGM 100:2008 G.2b; the stated value's own where it has any.
    double fourth = std::pow(fit.u_intercept, 4) / fit.dof;
    if (std::isfinite(stated_g_h.dof)) fourth += std::pow(stated_g_h.u, 4) / stated_g_h.dof;
    const double away = (std::abs(fit.intercept - stated_g_h.value) - allowed_g_h) / u;
    const double away_limit = student_quantile(1 - false_alarm_rate / 4, std::pow(u, 4) / fourth);
    if (away > away_limit)
        out.push_back(finding_of(FindingId::evaporation_level,
                                 {{"loss_g_h", fit.intercept, 2}, {"stated_g_h", stated_g_h.value, 2}}, away,
                                 away_limit, false_alarm_rate / 2));
    return out;
}

}  // namespace tipwright::calib
