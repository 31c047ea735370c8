#include "calib/laboratory/control_chart.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

constexpr double ranges_of_two = 1.128;  // d2
constexpr double moving_range_efficiency = 0.605;

Outcome check(const std::vector<double>& values, const ControlSettings& settings) {
    const auto bad = [](const std::string& what, const std::string& remedy) {
        return Fault{FaultCode::bad_value, what, "control chart", remedy};
    };
    for (const double value : values)
        if (!std::isfinite(value))
            return Fault{FaultCode::not_finite, "a value is not finite", "control chart", "take it out"};
    if (!(settings.lambda > 0 && settings.lambda <= 1 && settings.L > 0))
        return bad("the weight of the last value is not between 0 and 1", "give 0.05 to 0.4");
    if (!(settings.tail > 0 && settings.tail < 0.1)) return bad("no tail of a limit", "give 0.00135");
    if (settings.centre.has_value() != settings.sd.has_value())
        return bad("centre without spread, or spread without centre", "give both or neither");
    if (settings.sd && !(*settings.sd > 0 && std::isfinite(*settings.sd + *settings.centre)))
        return bad("the spread given is not above 0", "give the standard deviation of the check gauge");
    return Done{};
}

bool restarts_at(const ControlSettings& settings, std::size_t at) {
    return std::find(settings.restarts.begin(), settings.restarts.end(), at) != settings.restarts.end();
}

void find_signals(ControlChart& chart, const ControlSettings& settings) {
    std::size_t begun = 0;
    for (std::size_t i = 0; i < chart.values.size(); ++i) {
        if (restarts_at(settings, i)) begun = i;
        // How many of the last `within` values lie on one side, beyond so many zones.
        const auto beyond = [&](double zones, std::size_t within, int side) {
            std::size_t count = 0;
            for (std::size_t k = std::max(begun, i + 1 >= within ? i + 1 - within : 0); k <= i; ++k)
                if (side * (chart.values[k] - chart.centre) > zones * chart.zone) ++count;
            return count;
        };
        for (const int side : {1, -1}) {
            const auto add = [&](ControlRule rule) { chart.signals.push_back({rule, i, side > 0}); };
            const double off = side * (chart.values[i] - chart.centre);
            if (off > chart.limit) add(ControlRule::beyond_limit);
            if (settings.runs_rules) {
                // The value itself is one of them: else the signal was there before.
                if (off > 2 * chart.zone && beyond(2, 3, side) >= 2) add(ControlRule::two_of_three);
                if (off > chart.zone && beyond(1, 5, side) >= 4) add(ControlRule::four_of_five);
                if (off > 0 && beyond(0, 8, side) >= 8) add(ControlRule::eight_in_a_row);
            }
            if (settings.weighted_mean && side * (chart.weighted[i] - chart.centre) > chart.weighted_limit[i])
                add(ControlRule::weighted_mean);
        }
    }
}

}  // namespace

namespace {

// The noncentrality at which a test with this critical value tells in four of five cases: noncentral t lies
// beyond it where Z + delta > critical S, S the root of chi-squared over its degrees of freedom, summed over
// its density.
double told_from(double critical, double dof) {
    constexpr int parts = 600;
    constexpr double widest = 6;
    std::vector<std::pair<double, double>> spreads;  // S, its share
    double all = 0;
    for (int i = 1; i < parts; ++i) {
        const double s = widest * i / parts;
        spreads.emplace_back(s, std::exp((dof - 1) * std::log(s) - dof * (s * s - 1) / 2));
        all += spreads.back().second;
    }
    double low = 0, high = 4 * critical;
    for (int i = 0; i < 40; ++i) {
        const double delta = (low + high) / 2;
        double beyond = 0;
        for (const auto& [s, share] : spreads) beyond += share * normal_cumulative(delta - critical * s);
        (beyond < 0.8 * all ? low : high) = delta;
    }
    return high;
}

}  // namespace

double hidden_move(const ControlChart& chart) {
    if (chart.baseline < least_baseline) return 0;
    const auto all = chart.values.begin();
    const auto half = all + static_cast<std::ptrdiff_t>(chart.baseline / 2);
    const auto end = all + static_cast<std::ptrdiff_t>(chart.baseline);
    double squares = 0;
    for (const auto& [from, to] : {std::pair{all, half}, std::pair{half, end}}) {
        const double mean = std::accumulate(from, to, 0.0) / static_cast<double>(to - from);
        squares += std::accumulate(from, to, 0.0,
                                   [&](double sum, double v) { return sum + (v - mean) * (v - mean); });
    }
    const auto dof = static_cast<double>(chart.baseline - 2);
    return told_from(student_quantile(1 - control_tail, dof), dof) * std::sqrt(squares / dof) *
           std::sqrt(1 / static_cast<double>(half - all) + 1 / static_cast<double>(end - half));
}

Result<ControlChart> control_chart(const std::vector<double>& values, const ControlSettings& settings) {
    if (auto good = check(values, settings); !good) return good.fault();
    ControlChart out;
    out.values = values;
    double widening = 1;
    double limit_factor = -normal_quantile(settings.tail);
    if (settings.centre) {
        out.centre = *settings.centre;
        out.sd = *settings.sd;
    } else {
        out.baseline = std::min(settings.baseline, values.size());
        if (out.baseline < least_baseline)
            return Fault{FaultCode::too_few_points, std::to_string(out.baseline) + " values set no limits",
                         "control chart",
                         "measure the check gauge at least " + std::to_string(least_baseline) + " times"};
        const auto n = static_cast<double>(out.baseline);
        out.centre =
            values[0] + std::accumulate(values.begin(), values.begin() + static_cast<long>(out.baseline), 0.0,
                                        [&](double sum, double v) { return sum + (v - values[0]); }) /
                            n;
        double ranges = 0;
        for (std::size_t i = 1; i < out.baseline; ++i) ranges += std::abs(values[i] - values[i - 1]);
        out.sd = ranges / (n - 1) / ranges_of_two;
        if (settings.widen) {
            const double dof = moving_range_efficiency * (n - 1);
            const double spread = std::sqrt(1 + 1 / n);
            widening = student_quantile(1 - control_tail, dof) * spread / -normal_quantile(control_tail);
            limit_factor = student_quantile(1 - settings.tail, dof) * spread;
        }
    }
    if (!(out.sd > 0))
        return Fault{FaultCode::bad_value, "the values do not differ at all", "control chart",
                     "give them with more digits"};
    out.zone = out.sd * widening;
    out.limit = out.sd * limit_factor;
    double z = out.centre, left = 1;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double value = values[i];
        if (restarts_at(settings, i)) {
            z = out.centre;
            left = 1;
        }
        z = settings.lambda * value + (1 - settings.lambda) * z;
        left *= (1 - settings.lambda) * (1 - settings.lambda);
        out.weighted.push_back(z);
        out.weighted_limit.push_back(settings.L * out.zone *
                                     std::sqrt(settings.lambda / (2 - settings.lambda) * (1 - left)));
    }
    find_signals(out, settings);
    return out;
}

}  // namespace tipwright::calib
