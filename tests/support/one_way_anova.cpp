#include "tests/support/one_way_anova.hpp"

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>
#include <limits>

#include "calib/base/double_pair.hpp"
#include "calib/statistics/boost_policy.hpp"

namespace tipwright::calib {

namespace {

DoublePair mean_of(const std::vector<double>& values) {
    DoublePair sum;
    for (const double value : values) sum = sum + DoublePair{value, 0};
    return sum / DoublePair{static_cast<double>(values.size()), 0};
}

}  // namespace

double OneWayAnova::repeatability_sd() const {
    return std::sqrt(within_mean_square);
}
double OneWayAnova::between_variance() const {
    return (between_mean_square - within_mean_square) / values_level;
}
double OneWayAnova::between_sd() const {
    return std::sqrt(std::max(0.0, between_variance()));
}

Result<OneWayAnova> one_way_anova(const std::vector<std::vector<double>>& levels) {
    OneWayAnova out;
    double squared_counts = 0;
    DoublePair sum;
    for (const auto& level : levels) {
        if (level.empty()) continue;
        ++out.levels;
        out.values += static_cast<int>(level.size());
        squared_counts += static_cast<double>(level.size()) * static_cast<double>(level.size());
        for (const double value : level) {
            if (!std::isfinite(value))
                return Fault{FaultCode::not_finite, "a value is not finite", "analysis of variance",
                             "take it out"};
            sum = sum + DoublePair{value, 0};
        }
    }
    if (out.levels < 2 || out.values <= out.levels)
        return Fault{
            FaultCode::too_few_points,
            std::to_string(out.values) + " values in " + std::to_string(out.levels) + " levels part nothing",
            "analysis of variance", "measure at least two levels, one of them at least twice"};
    const double n = out.values;
    const DoublePair mean = sum / DoublePair{n, 0};
    DoublePair between, within;
    for (const auto& level : levels) {
        if (level.empty()) continue;
        const DoublePair own = mean_of(level);
        const DoublePair off = own - mean;
        between = between + off * off * static_cast<double>(level.size());
        for (const double value : level) {
            const DoublePair rest = DoublePair{value, 0} - own;
            within = within + rest * rest;
        }
    }
    out.mean = mean.rounded();
    out.between_squares = between.rounded();
    out.within_squares = within.rounded();
    out.between_dof = out.levels - 1;
    out.within_dof = n - out.levels;
    out.between_mean_square = out.between_squares / out.between_dof;
    out.within_mean_square = out.within_squares / out.within_dof;
    out.values_level = (n - squared_counts / n) / out.between_dof;
    if (out.within_mean_square > 0) {
        out.F = out.between_mean_square / out.within_mean_square;
        const boost::math::fisher_f_distribution<double, SameEverywhere> law(out.between_dof, out.within_dof);
        out.p = boost::math::cdf(boost::math::complement(law, out.F));
    } else if (out.between_mean_square > 0) {
        out.F = std::numeric_limits<double>::infinity();
        out.p = 0;
    }
    return out;
}

}  // namespace tipwright::calib
