#include "calib/tips/pooled_scatter.hpp"

#include <cmath>
#include <string>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

constexpr double pooling_confidence = 0.99;
// A variance estimated from J groups of a siphon's tips scatters like one of J/3 normal values (simulated).
constexpr double group_worth = 1.0 / 3;
constexpr double stated_tail_dof = 50;
constexpr const char* by_groups = "weighed groups";

// What the scatter of single tips in per cent stands for in grams an emptying; straight inlet: a tip.
double percent_to_g(const StepObservation& observation) {
    return observation.balance_difference_g / observation.tips / 100 *
           std::sqrt(observation.scatter.tips_per_group);
}

bool is_weighable(const StepObservation& observation) {
    return observation.scatter.tips_per_group > 0 && observation.tips > 0 &&
           observation.balance_difference_g > 0;
}

bool has_scatter(const StepObservation& observation) {
    return observation.scatter.dof > 0 && observation.scatter.sd_percent > 0 && is_weighable(observation);
}

ScatterSample in_grams(const StepObservation& observation) {
    const double worth = observation.scatter.from == by_groups ? group_worth : 1;
    return {observation.scatter.sd_percent * percent_to_g(observation), worth * observation.scatter.dof};
}

ScatterSample pooled(const std::vector<ScatterSample>& samples) {
    double squares = 0;
    double dof = 0;
    for (const auto& sample : samples) {
        squares += sample.dof * sample.sd * sample.sd;
        dof += sample.dof;
    }
    return {std::sqrt(squares / dof), dof};
}

}  // namespace

double bartlett_ratio(const std::vector<ScatterSample>& samples, double confidence) {
    std::vector<ScatterSample> used;
    for (const auto& sample : samples) {
        if (sample.dof > 0 && sample.sd > 0) used.push_back(sample);
    }
    if (used.size() < 2) return 0;
    const ScatterSample together = pooled(used);
    const auto count = static_cast<double>(used.size());
    double statistic = together.dof * std::log(together.sd * together.sd);
    double reciprocals = 0;
    for (const auto& sample : used) {
        statistic -= sample.dof * std::log(sample.sd * sample.sd);
        reciprocals += 1 / sample.dof;
    }
    const double correction = 1 + (reciprocals - 1 / together.dof) / (3 * (count - 1));
    return statistic / correction / chi_squared_quantile(confidence, count - 1);
}

double siphon_tail_sd_percent(const Gauge& gauge) {
    if (gauge.inlet != Inlet::siphon) return 0;
    const double p = gauge.siphon_tail_percent / 100;
    return 100 * std::sqrt(p * p * p / 3 - p * p * p * p / 4);
}

TipScatter pooled_scatter(const std::vector<StepObservation>& observations, std::size_t of,
                          const Gauge& gauge) {
    const StepObservation& wanted = observations[of];
    const TipScatter& own = wanted.scatter;
    const double tail_sd_percent = own.from == by_groups ? siphon_tail_sd_percent(gauge) : 0;
    if (!is_weighable(wanted) || (!has_scatter(wanted) && tail_sd_percent == 0)) return own;
    std::vector<ScatterSample> samples;
    for (const auto& other : observations)
        if (has_scatter(other) && other.scatter.from == own.from) samples.push_back(in_grams(other));
    ScatterSample result = has_scatter(wanted) ? in_grams(wanted) : ScatterSample{};
    std::string from = own.from;
    if (samples.size() > 1 && has_scatter(wanted) && bartlett_ratio(samples, pooling_confidence) <= 1) {
        result = pooled(samples);
        from += ", pooled over " + std::to_string(samples.size()) + " steps";
    }
    if (tail_sd_percent > 0) {
        const double tip_g = wanted.balance_difference_g / wanted.tips;
        const ScatterSample stated{tail_sd_percent / 100 * tip_g, stated_tail_dof};
        // Too few caught tips make the scatter seen too small, so only one that is too large speaks against
        // what is stated.
        const bool too_large =
            result.sd > stated.sd && bartlett_ratio({result, stated}, pooling_confidence) > 1;
        if (!too_large) {
            result = pooled({result, stated});
            from += ", pooled with the stated siphon tail";
        }
    }
    TipScatter scatter{result.sd / percent_to_g(wanted), result.dof, from, own.tips_per_group};
    // How tips follow each other is a property of the gauge, whatever the size of its scatter.
    for (const auto& other : observations) {
        if (!(other.scatter.neighbours_of > 0) || other.scatter.from != own.from) continue;
        scatter.neighbours += other.scatter.neighbours_of * other.scatter.neighbours;
        scatter.neighbours_of += other.scatter.neighbours_of;
    }
    if (scatter.neighbours_of > 0) scatter.neighbours /= scatter.neighbours_of;
    return scatter;
}

}  // namespace tipwright::calib
