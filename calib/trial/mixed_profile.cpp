// Profile of the restricted likelihood over each standard deviation.
#include <algorithm>
#include <cmath>
#include <functional>

#include "calib/statistics/distributions.hpp"
#include "calib/trial/mixed_criterion.hpp"

namespace tipwright::calib::trial {

namespace {

enum class Spread { level, tilt, run, residual };

// What is held, and what is free: standard deviations of level, tilt and runs relative to s, how level and
// tilt go together (-1 to 1), and log s.
struct Problem {
    const MixedCriterion* criterion = nullptr;
    Spread held{};
    double sd = 0;
    double base_log_s = 0;
};

constexpr double widest_correlation = 0.999999;

Factors factors_from(const Problem& problem, const double* x, double& s) {
    const MixedCriterion& criterion = *problem.criterion;
    double level = 0;
    double tilt = 0;
    double run = 0;
    double together = 0;
    if (problem.held != Spread::level) level = *x++;
    if (criterion.columns == 2) {
        if (problem.held != Spread::tilt) tilt = *x++;
        together = *x++;
    }
    if (criterion.runs > 0 && problem.held != Spread::run) run = *x++;
    s = problem.held == Spread::residual ? problem.sd : std::exp(problem.base_log_s + *x);
    if (problem.held == Spread::level) level = problem.sd / s;
    if (problem.held == Spread::tilt) tilt = problem.sd / s;
    if (problem.held == Spread::run) run = problem.sd / s;
    return {level, tilt * together, tilt * std::sqrt(1 - together * together), run};
}

double objective(unsigned, const double* x, double*, void* data) {
    const auto& problem = *static_cast<const Problem*>(data);
    double s = 0;
    const Factors factors = factors_from(problem, x, s);
    return problem.criterion->at(factors, s);
}

struct Profile {
    Problem problem;
    std::vector<double> start, low, high;

    double at(double sd) {
        problem.sd = sd;
        Minimum found = minimise(objective, &problem, start, low, high, 0.2, 1e-5);
        start = found.at;  // the next point is near
        return found.value;
    }
};

Profile profile_of(const MixedCriterion& criterion, const MixedModel& model, Spread held) {
    const double s = std::sqrt(model.residual_variance());
    Profile out{{&criterion, held, 0, std::log(s)}, {}, {}, {}};
    const auto add = [&](double value, double low, double high) {
        out.start.push_back(std::clamp(value, low, high));
        out.low.push_back(low);
        out.high.push_back(high);
    };
    const double level = std::sqrt(model.level_variance()) / s;
    const double tilt = std::sqrt(model.tilt_variance()) / s;
    if (held != Spread::level) add(level, 0, 1e6);
    if (criterion.columns == 2) {
        if (held != Spread::tilt) add(tilt, 0, 1e6);
        const double product = level * tilt * s * s;
        add(product > 0 ? model.level_tilt_covariance() / product : 0, -widest_correlation,
            widest_correlation);
    }
    if (criterion.runs > 0 && held != Spread::run) add(std::sqrt(model.run_variance()) / s, 0, 1e6);
    if (held != Spread::residual) add(0, -20, 20);
    return out;
}

// Where the profile crosses the limit between two standard deviations, one inside and one outside.
double crossing(Profile& profile, double inside, double outside, double limit) {
    constexpr double fine = 1.002;
    while (std::max(inside, outside) > fine * std::min(inside, outside)) {
        const double middle = std::sqrt(inside * outside);
        (profile.at(middle) < limit ? inside : outside) = middle;
    }
    return std::sqrt(inside * outside);
}

SpreadInterval interval(const MixedCriterion& criterion, const MixedModel& model, Spread held, double sd,
                        double limit) {
    SpreadInterval out{sd, 0, 0};
    const double s = std::sqrt(model.residual_variance());
    const double inside = sd > 0 ? sd : 1e-4 * s;
    constexpr double step = 2;
    constexpr int most_steps = 40;
    Profile upwards = profile_of(criterion, model, held);
    double low = inside;
    double high = inside;
    for (int i = 0; i < most_steps; ++i) {
        high *= step;
        if (upwards.at(high) >= limit) break;
        low = high;
    }
    out.high = crossing(upwards, low, high, limit);
    Profile downwards = profile_of(criterion, model, held);
    if (!(sd > 0) || (held != Spread::residual && downwards.at(1e-6 * std::min(s, sd)) < limit)) return out;
    downwards = profile_of(criterion, model, held);
    low = high = inside;
    for (int i = 0; i < most_steps; ++i) {
        low /= step;
        if (downwards.at(low) >= limit) break;
        high = low;
    }
    out.low = crossing(downwards, high, low, limit);
    return out;
}

}  // namespace

Result<SpreadIntervals> profile_intervals(const MixedData& data, const MixedModel& model, double coverage) {
    if (!(coverage > 0 && coverage < 1))
        return Fault{FaultCode::bad_value, "a coverage lies between 0 and 1", "mixed model", ""};
    const auto made = MixedCriterion::of(data, model.likelihood);
    if (!made) return made.fault();
    const double limit = model.criterion + chi_squared_quantile(coverage, 1);
    SpreadIntervals out;
    out.level = interval(*made, model, Spread::level, std::sqrt(model.level_variance()), limit);
    if (model.random_columns == 2)
        out.tilt = interval(*made, model, Spread::tilt, std::sqrt(model.tilt_variance()), limit);
    if (model.runs > 0) out.run = interval(*made, model, Spread::run, std::sqrt(model.run_variance()), limit);
    out.residual = interval(*made, model, Spread::residual, std::sqrt(model.residual_variance()), limit);
    return out;
}

}  // namespace tipwright::calib::trial
