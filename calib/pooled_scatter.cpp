#include "calib/pooled_scatter.hpp"

#include <cmath>

#include "calib/distributions.hpp"

namespace tipwright::calib {

namespace {

constexpr double pooling_confidence = 0.99;
// A variance estimated from J groups of a siphon's tips scatters like one of J/3 normal values (simulated).
constexpr double group_worth = 1.0 / 3;

double per_tip_g(const StepObservation& observation) {
    return observation.balance_difference_g / observation.tips;
}

bool has_scatter(const StepObservation& observation) {
    return observation.scatter.dof > 0 && observation.scatter.sd_percent > 0 && observation.tips > 0 &&
           observation.balance_difference_g > 0;
}

ScatterSample in_grams(const StepObservation& observation) {
    return {observation.scatter.sd_percent / 100 * per_tip_g(observation), observation.scatter.dof};
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

TipScatter pooled_scatter(const std::vector<StepObservation>& observations, std::size_t of) {
    const StepObservation& wanted = observations[of];
    if (!has_scatter(wanted)) return wanted.scatter;
    const double worth = wanted.scatter.from == "weighed groups" ? group_worth : 1;
    std::vector<ScatterSample> samples;
    std::vector<ScatterSample> tested;
    for (const auto& other : observations) {
        if (!has_scatter(other) || other.scatter.from != wanted.scatter.from) continue;
        samples.push_back(in_grams(other));
        tested.push_back({samples.back().sd, worth * samples.back().dof});
    }
    if (samples.size() < 2 || bartlett_ratio(tested, pooling_confidence) > 1) return wanted.scatter;
    const ScatterSample together = pooled(samples);
    return {100 * together.sd / per_tip_g(wanted), together.dof,
            wanted.scatter.from + ", pooled over " + std::to_string(samples.size()) + " steps"};
}

}  // namespace tipwright::calib
