// What the balance shows that no tip brought: something fell on the pan, or was taken away.
#include <algorithm>
#include <array>
#include <cmath>

#include "calib/statistics/distributions.hpp"
#include "calib/statistics/median.hpp"
#include "calib/statistics/outliers.hpp"
#include "calib/tips/tip_checks.hpp"

namespace tipwright::calib {

namespace {

// Changes smaller than this part of the collect's water do not matter.
constexpr double matters = 0.001;

// Tips whose water fits their intervals worse than that of the others. One that is short of water is as often
// a matter of its neighbours, so the largest deviation speaks.
struct Misfit {
    double change_g = 0;
    double statistic = 0;
    double threshold = 0;
    std::vector<std::size_t> tips;
};

bool all_finite(const std::vector<double>& values) {
    return std::all_of(values.begin(), values.end(), [](double value) { return std::isfinite(value); });
}

Misfit against_intervals(const TipSeries& series, double total_g, double alpha) {
    const bool settled = all_finite(series.mass_g);
    const std::vector<double>& water_g = settled ? series.mass_g : series.rise_g;
    std::vector<double> left_g;
    std::vector<std::size_t> tip_of;
    double inflow = 0;
    double water = 0;
    const auto inflow_of = [&](std::size_t k) {
        return series.interval_s[k] * (series.flow.empty() ? 1 : series.flow[k]);
    };
    for (std::size_t k = 0; k < water_g.size(); ++k) {
        if (!std::isfinite(water_g[k])) continue;
        inflow += inflow_of(k);
        water += water_g[k];
    }
    // What a compartment holds more than the other it takes longer to fill, but the balance does not lag so.
    std::array<std::vector<double>, 2> of_side;
    const auto sides = static_cast<std::size_t>(series.compartments);
    for (std::size_t k = 0; k < water_g.size(); ++k) {
        if (!std::isfinite(water_g[k])) continue;
        left_g.push_back(water_g[k] - inflow_of(k) * water / inflow);
        tip_of.push_back(k);
        of_side[k % sides].push_back(left_g.back());
    }
    Misfit out;
    if (left_g.size() < 8) return out;
    for (std::size_t j = 0; j < left_g.size(); ++j) left_g[j] -= median(of_side[tip_of[j] % sides]);
    const Outliers outliers = find_outliers(left_g, alpha, left_g.size() / 4);
    for (const std::size_t j : outliers.at) {
        if (std::abs(left_g[j]) < matters * total_g) continue;
        out.tips.push_back(tip_of[j] + 1);
        if (std::abs(left_g[j]) > std::abs(out.change_g)) out.change_g = left_g[j];
    }
    out.statistic = outliers.statistic;
    out.threshold = outliers.threshold;
    return out;
}

Misfit in_pauses(const TipSeries& series, const BalanceMetrology& balance, double total_g, double alpha) {
    Misfit out;
    const auto pauses = std::count_if(series.pause_change_g.begin(), series.pause_change_g.end(),
                                      [](double change_g) { return std::isfinite(change_g); });
    if (pauses == 0 || !(balance.repeatability_g > 0)) return out;
    const double u_g =
        std::hypot(balance.repeatability_g, balance.resolution_g / std::sqrt(12.0)) * std::sqrt(2.0);
    out.threshold =
        student_quantile(1 - alpha / (2 * static_cast<double>(pauses)), balance.repeatability_dof);
    for (std::size_t k = 0; k < series.pause_change_g.size(); ++k) {
        const double change_g = series.pause_change_g[k];
        // Written so that NaN fails.
        if (!(std::abs(change_g) > std::max(out.threshold * u_g, matters * total_g))) continue;
        out.tips.push_back(k + 1);
        if (std::abs(change_g) > std::abs(out.change_g)) out.change_g = change_g;
    }
    out.statistic = std::abs(out.change_g) / u_g;
    return out;
}

}  // namespace

std::optional<Finding> check_balance_disturbance(const TipSeries& series, const BalanceMetrology& balance,
                                                 double total_g, double false_alarm_rate) {
    const Misfit misfit = series.regular ? against_intervals(series, total_g, false_alarm_rate)
                                         : in_pauses(series, balance, total_g, false_alarm_rate);
    if (misfit.tips.empty()) return std::nullopt;
    Finding finding = finding_of(FindingId::balance_disturbed,
                                 {{"change_g", misfit.change_g, 2}, count_of("tip", misfit.tips.front())},
                                 misfit.statistic, misfit.threshold, false_alarm_rate);
    finding.tips = misfit.tips;
    return finding;
}

}  // namespace tipwright::calib
