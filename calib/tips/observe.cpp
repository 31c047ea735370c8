#include "calib/tips/observe.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <string>

#include "calib/statistics/median.hpp"
#include "calib/statistics/serial_correlation.hpp"

namespace tipwright::calib {

namespace {

// After this many time constants of drain and balance filter a discharge counts as arrived: what is
// still on its way is below 2 % of one tip and equal at both ends.
constexpr double settled_lags = 4;
// A window later than this gains nothing more.
constexpr double fully_settled_lags = 8;
constexpr double longest_window_s = 5;
constexpr double shortest_window_s = 0.6;

struct Groups {
    std::vector<double> mass_g;
    std::vector<int> tips;
    std::vector<int> tips_of_a;
};

// Masses of the groups of tips between pauses long enough to weigh.
Groups weighed_groups(std::span<const Tip> tips, std::size_t opening, std::size_t closing,
                      std::span<const WeightPoint> weights, const ReadingWindow& window, double pause_s) {
    Groups groups;
    std::optional<double> last_mass_g;
    std::size_t last_tip = opening;
    for (std::size_t k = opening; k <= closing; ++k) {
        const bool weighable = k == closing || tips[k + 1].time_s - tips[k].time_s >= pause_s;
        if (!weighable) continue;
        const auto mean = window_mean(weights, tips[k].time_s + window.from_s, tips[k].time_s + window.to_s);
        if (!mean) continue;
        if (last_mass_g) {
            groups.mass_g.push_back(mean->mean_g - *last_mass_g);
            groups.tips.push_back(static_cast<int>(k - last_tip));
            int of_a = 0;
            for (std::size_t j = last_tip + 1; j <= k; ++j) of_a += j % 2 == 0 ? 1 : 0;
            groups.tips_of_a.push_back(of_a);
        }
        last_mass_g = mean->mean_g;
        last_tip = k;
    }
    return groups;
}

// Groups of n tips weigh n v (+ d for each tip of A beyond B's); what is left over grows with sqrt n.
TipScatter scatter_from_groups(const Groups& groups, int compartments) {
    TipScatter scatter;
    scatter.from = "weighed groups";
    const auto count = groups.mass_g.size();
    double tips = 0;
    double mass = 0;
    for (std::size_t j = 0; j < count; ++j) {
        tips += groups.tips[j];
        mass += groups.mass_g[j];
    }
    if (count > 0) scatter.tips_per_group = tips / static_cast<double>(count);
    if (count < 4 || !(mass > 0)) return scatter;
    const double mean_g = mass / tips;
    double imbalance_xx = 0;
    double imbalance_xy = 0;
    if (compartments == 2) {
        for (std::size_t j = 0; j < count; ++j) {
            const double excess = 2.0 * groups.tips_of_a[j] - groups.tips[j];
            imbalance_xx += excess * excess / groups.tips[j];
            imbalance_xy += excess * (groups.mass_g[j] - groups.tips[j] * mean_g) / groups.tips[j];
        }
    }
    const bool resolvable = imbalance_xx > 1;
    const double half_difference_g = resolvable ? imbalance_xy / imbalance_xx : 0;
    double chi2 = 0;
    for (std::size_t j = 0; j < count; ++j) {
        const double excess = 2.0 * groups.tips_of_a[j] - groups.tips[j];
        const double residual = groups.mass_g[j] - groups.tips[j] * mean_g - excess * half_difference_g;
        chi2 += residual * residual / groups.tips[j];
    }
    scatter.dof = static_cast<double>(count) - (resolvable ? 2 : 1);
    scatter.sd_percent = 100 * std::sqrt(chi2 / scatter.dof) / mean_g;
    return scatter;
}

// About the mean of their own side, and without the trend of a pump whose tube wears, which is not the
// gauge's.
std::vector<double> without_sides_and_trend(std::span<const double> values, std::size_t sides) {
    const std::size_t n = values.size();
    std::vector<double> rest(values.begin(), values.end());
    for (std::size_t side = 0; side < sides; ++side) {
        double sum = 0;
        double count = 0;
        for (std::size_t k = side; k < n; k += sides, ++count) sum += values[k];
        for (std::size_t k = side; k < n; k += sides) rest[k] -= sum / count;
    }
    const double middle = (static_cast<double>(n) - 1) / 2;
    double xy = 0;
    double xx = 0;
    for (std::size_t k = 0; k < n; ++k) {
        const double x = static_cast<double>(k) - middle;
        xy += x * rest[k];
        xx += x * x;
    }
    for (std::size_t k = 0; k < n && xx > 0; ++k) rest[k] -= xy / xx * (static_cast<double>(k) - middle);
    return rest;
}

}  // namespace

double siphon_pause_s(const BenchMetrology& bench) {
    return bench.discharge_delay_s + settled_lags * bench.discharge_lag_s + shortest_window_s +
           guard_before_next_tip_s;
}

ReadingWindow reading_window(double gap_s, double mean_s, const BenchMetrology& bench) {
    const double settled_s = bench.discharge_delay_s + settled_lags * bench.discharge_lag_s;
    const double end_s = gap_s - guard_before_next_tip_s;
    if (end_s - settled_s < shortest_window_s * (1 - 1e-9)) return {WeighingMethod::staircase, 0, mean_s};
    const double fully_s = bench.discharge_delay_s + fully_settled_lags * bench.discharge_lag_s;
    const double from_s = std::min(fully_s, std::max(settled_s, end_s - longest_window_s / 2));
    return {WeighingMethod::plateau, from_s, std::min(end_s, from_s + longest_window_s)};
}

ReadingWindow reading_window(std::span<const Tip> tips, std::size_t opening, std::size_t closing,
                             const Gauge& gauge, const BenchMetrology& bench) {
    const double mean_s =
        (tips[closing].time_s - tips[opening].time_s) / static_cast<double>(closing - opening);
    double gap_s = tips[opening + 1].time_s - tips[opening].time_s;
    if (gauge.inlet == Inlet::siphon) {
        const double pause_s = siphon_pause_s(bench);
        return reading_window(gap_s >= pause_s ? pause_s : 0, mean_s, bench);
    }
    for (std::size_t k = opening; k < closing; ++k)
        gap_s = std::min(gap_s, tips[k + 1].time_s - tips[k].time_s);
    return reading_window(gap_s, mean_s, bench);
}

TipScatter scatter_from_intervals(std::span<const double> intervals_s, int compartments) {
    TipScatter scatter;
    scatter.from = "intervals";
    const auto sides = static_cast<std::size_t>(compartments);
    if (intervals_s.size() < 4) return scatter;
    double squares = 0;
    double total = 0;
    for (std::size_t side = 0; side < sides; ++side) {
        double sum = 0;
        double count = 0;
        for (std::size_t k = side; k < intervals_s.size(); k += sides) {
            sum += intervals_s[k];
            ++count;
        }
        for (std::size_t k = side; k < intervals_s.size(); k += sides) {
            squares += (intervals_s[k] - sum / count) * (intervals_s[k] - sum / count);
        }
        total += sum;
    }
    const auto count = static_cast<double>(intervals_s.size());
    scatter.dof = count - static_cast<double>(sides);
    scatter.sd_percent = 100 * std::sqrt(squares / scatter.dof) / (total / count);
    scatter.neighbours = neighbour_correlation(without_sides_and_trend(intervals_s, sides));
    scatter.neighbours_of = count;
    return scatter;
}

std::optional<CompartmentBalance> balance_from_intervals(std::span<const double> intervals_s,
                                                         bool first_is_a) {
    if (intervals_s.size() < 4) return std::nullopt;
    std::array<double, 2> sum{};
    std::array<double, 2> count{};
    for (std::size_t k = 0; k < intervals_s.size(); ++k) {
        sum[k % 2] += intervals_s[k];
        ++count[k % 2];
    }
    const double first = sum[0] / count[0];
    const double second = sum[1] / count[1];
    const TipScatter scatter = scatter_from_intervals(intervals_s, 2);
    CompartmentBalance balance;
    balance.a_excess_percent = 100 * (first - second) / (first + second) * (first_is_a ? 1 : -1);
    balance.u_percent = scatter.sd_percent * std::sqrt(1 / count[0] + 1 / count[1]) / 2;
    balance.dof = scatter.dof;
    return balance;
}

std::optional<CompartmentBalance> balance_within_emptyings(std::span<const double> intervals_s,
                                                           double longest_s, bool first_is_a) {
    constexpr std::size_t fewest = 4;
    // What lies further from the median spans a pause, or water that ran out.
    constexpr double ordinary_within = 0.4;
    std::array<std::vector<double>, 2> of_side;
    std::vector<double> within;
    for (const double interval_s : intervals_s)
        if (interval_s < longest_s) within.push_back(interval_s);
    if (within.size() < 2 * fewest) return std::nullopt;
    const double ordinary_s = median(within);
    for (std::size_t k = 0; k < intervals_s.size(); ++k)
        if (intervals_s[k] < longest_s && std::abs(intervals_s[k] / ordinary_s - 1) < ordinary_within)
            of_side[k % 2].push_back(intervals_s[k]);
    std::array<double, 2> mean{};
    double squares = 0;
    double reciprocals = 0;
    for (std::size_t side = 0; side < 2; ++side) {
        const auto n = static_cast<double>(of_side[side].size());
        if (of_side[side].size() < fewest) return std::nullopt;
        mean[side] = std::accumulate(of_side[side].begin(), of_side[side].end(), 0.0) / n;
        for (const double interval_s : of_side[side])
            squares += (interval_s - mean[side]) * (interval_s - mean[side]);
        reciprocals += 1 / n;
    }
    CompartmentBalance balance;
    balance.dof = static_cast<double>(of_side[0].size() + of_side[1].size()) - 2;
    const double both_s = mean[0] + mean[1];
    balance.a_excess_percent = 100 * (mean[0] - mean[1]) / both_s * (first_is_a ? 1 : -1);
    balance.u_percent = 100 * std::sqrt(squares / balance.dof * reciprocals) / both_s;
    return balance;
}

Result<StepObservation> observe_collect(std::span<const Tip> tips, std::size_t opening, std::size_t closing,
                                        std::span<const WeightPoint> weights, const Gauge& gauge,
                                        const BenchMetrology& bench) {
    if (!(opening < closing && closing < tips.size())) {
        return Fault{FaultCode::too_few_points, "a collect needs at least two tips", "collect", ""};
    }
    StepObservation observation;
    observation.tips = static_cast<int>(closing - opening);
    observation.started_s = tips[opening].time_s;
    observation.duration_s = tips[closing].time_s - tips[opening].time_s;

    std::vector<double> intervals_s;
    for (std::size_t k = opening; k < closing; ++k)
        intervals_s.push_back(tips[k + 1].time_s - tips[k].time_s);
    const double pause_s = siphon_pause_s(bench);
    const bool groups_resolved = intervals_s.front() >= pause_s;
    const ReadingWindow window = reading_window(tips, opening, closing, gauge, bench);
    observation.weighing = window.method;

    const auto first =
        window_mean(weights, tips[opening].time_s + window.from_s, tips[opening].time_s + window.to_s);
    const auto last =
        window_mean(weights, tips[closing].time_s + window.from_s, tips[closing].time_s + window.to_s);
    if (!first || !last) {
        return Fault{FaultCode::too_few_points, "no balance reading belongs to the opening or closing tip",
                     "collect", "the balance must answer throughout, at least once per tip interval"};
    }
    observation.balance_difference_g = last->mean_g - first->mean_g;
    // Readings within one filter time are not independent.
    const double independent = std::max(
        1.0, std::min<double>(first->readings, (window.to_s - window.from_s) / (2 * bench.discharge_lag_s)));
    observation.balance_readings_per_edge = static_cast<int>(independent);

    const auto sides = gauge.compartments;
    if (gauge.inlet == Inlet::siphon && groups_resolved && window.method == WeighingMethod::plateau) {
        observation.scatter =
            scatter_from_groups(weighed_groups(tips, opening, closing, weights, window, pause_s), sides);
    } else {
        observation.scatter = scatter_from_intervals(intervals_s, sides);
    }
    // A siphon's emptyings order its intervals.
    if (gauge.inlet == Inlet::siphon) observation.scatter.neighbours = observation.scatter.neighbours_of = 0;
    if (window.method == WeighingMethod::plateau) {
        const double noise_g = bench.balance.repeatability_g;
        const double sd_g = std::sqrt((first->sd_g * first->sd_g + last->sd_g * last->sd_g) / 2);
        const double beyond = std::sqrt(std::max(0.0, sd_g * sd_g - noise_g * noise_g));
        observation.weighing_scatter_u_g = beyond * std::sqrt(2 / independent);
    } else {
        // A window of one mean interval misses or gains up to half a tip's scatter at each end.
        const double tip_g = observation.balance_difference_g / observation.tips;
        observation.weighing_scatter_u_g =
            std::abs(tip_g) * observation.scatter.sd_percent / 100 / std::sqrt(2.0);
    }
    // The interval that ends with an even-numbered tip (counted from 0) filled compartment A.
    if (sides == 2 && gauge.inlet == Inlet::straight) {
        observation.compartments = balance_from_intervals(intervals_s, (opening + 1) % 2 == 0);
    }
    if (sides == 2 && gauge.inlet == Inlet::siphon)
        observation.compartments = balance_within_emptyings(intervals_s, pause_s, (opening + 1) % 2 == 0);
    observation.contact_counts.assign(gauge.contacts.size(), 0);
    for (std::size_t contact = 0; contact < gauge.contacts.size() && contact < max_contacts; ++contact) {
        for (std::size_t k = opening + 1; k <= closing; ++k) {
            observation.contact_counts[contact] += tips[k].seen_by[contact] ? 1 : 0;
        }
    }
    return observation;
}

}  // namespace tipwright::calib
