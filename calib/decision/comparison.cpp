#include "calib/decision/comparison.hpp"

#include <algorithm>
#include <cmath>

#include "calib/statistics/distributions.hpp"
#include "calib/statistics/linear_fit.hpp"

namespace tipwright::calib {

namespace {

// Repeats of one set point differ by a little in what was reached: within one per cent they are one point.
constexpr double same_intensity = 0.01;

std::string number(double value) {
    std::string text = std::to_string(value);
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text;
}

}  // namespace

double error_covariance(const StepResult& a, const StepResult& b) {
    double sum = 0;
    for (const BudgetComponent& first : a.budget) {
        if (!first.shared) continue;
        const auto second = std::find_if(b.budget.begin(), b.budget.end(), [&](const BudgetComponent& c) {
            return c.shared && c.id == first.id;
        });
        if (second == b.budget.end()) continue;
        // The same unknown deviation, in units of its uncertainty, acts on both.
        sum += first.relative_to_e() * second->relative_to_e() * first.u * second->u;
    }
    return sum * (100 + a.error_percent.value) * (100 + b.error_percent.value);
}

double en_number(const Uncertain& a, const Uncertain& b, double coverage, double covariance) {
    const Expanded U_a = expanded(a, coverage);
    const Expanded U_b = expanded(b, coverage);
    const double both = U_a.U * U_a.U + U_b.U * U_b.U;
    const double square = both - 2 * U_a.k * U_b.k * covariance;
    const double difference = a.value - b.value;
    // Two results that share everything leave only rounding.
    if (!(square > 1e-12 * both)) {
        return difference == 0 ? 0 : std::copysign(std::numeric_limits<double>::infinity(), difference);
    }
    return difference / std::sqrt(square);
}

Result<ErrorCurve> error_curve(std::string name, double time_years, const std::vector<StepResult>& steps) {
    struct Group {
        double intensity = 0;  // mean
        std::vector<const StepResult*> steps;
    };
    std::vector<const StepResult*> usable;
    for (const StepResult& step : steps) {
        if (step.reference_intensity_mm_h) usable.push_back(&step);
    }
    std::stable_sort(usable.begin(), usable.end(), [](const StepResult* a, const StepResult* b) {
        return a->reference_intensity_mm_h->value < b->reference_intensity_mm_h->value;
    });
    std::vector<Group> groups;
    for (const StepResult* step : usable) {
        const double intensity = step->reference_intensity_mm_h->value;
        if (groups.empty() || !(intensity <= groups.back().intensity * (1 + same_intensity)))
            groups.emplace_back();
        Group& group = groups.back();
        group.steps.push_back(step);
        group.intensity += (intensity - group.intensity) / static_cast<double>(group.steps.size());
    }
    CalibrationPoints points;
    points.cov_y = SquareMatrix(groups.size());
    for (std::size_t i = 0; i < groups.size(); ++i) {
        double sum = 0;
        for (const StepResult* step : groups[i].steps) sum += step->error_percent.value;
        points.x.push_back(groups[i].intensity);
        points.y.push_back(sum / static_cast<double>(groups[i].steps.size()));
        for (std::size_t j = 0; j < groups.size(); ++j) {
            double covariance = 0;
            for (const StepResult* a : groups[i].steps) {
                for (const StepResult* b : groups[j].steps) {
                    covariance += a == b ? a->error_percent.u * a->error_percent.u : error_covariance(*a, *b);
                }
            }
            points.cov_y(i, j) =
                covariance / static_cast<double>(groups[i].steps.size() * groups[j].steps.size());
        }
    }
    auto made = make_monotone_interpolation(points);
    if (!made) {
        Fault fault = made.fault();
        fault.where = name + ", " + fault.where;
        return fault;
    }
    return ErrorCurve{std::move(name), time_years, std::move(*made)};
}

Result<Uncertain> error_at(const ErrorCurve& curve, double intensity_mm_h) {
    auto value = evaluate(curve.errors, {intensity_mm_h, 0});
    if (!value) {
        Fault fault = value.fault();
        fault.where = curve.name;
        return fault;
    }
    return value->total;
}

Result<std::vector<CurveDifference>> compare(const ErrorCurve& first, const ErrorCurve& second,
                                             std::vector<double> intensities_mm_h, double coverage) {
    const auto& a = first.errors.points.x;
    const auto& b = second.errors.points.x;
    if (intensities_mm_h.empty()) {
        intensities_mm_h = a;
        intensities_mm_h.insert(intensities_mm_h.end(), b.begin(), b.end());
        std::sort(intensities_mm_h.begin(), intensities_mm_h.end());
        const auto close = [](double x, double y) { return y <= x * (1 + same_intensity); };
        intensities_mm_h.erase(std::unique(intensities_mm_h.begin(), intensities_mm_h.end(), close),
                               intensities_mm_h.end());
    }
    const double low = std::max(a.front(), b.front());
    const double high = std::min(a.back(), b.back());
    std::vector<CurveDifference> rows;
    for (const double asked : intensities_mm_h) {
        // A set point counts as reached when a curve ends within one per cent of it.
        if (!(asked >= low * (1 - same_intensity) && asked <= high * (1 + same_intensity))) continue;
        const double intensity = std::clamp(asked, low, high);
        const auto in_first = error_at(first, intensity);
        if (!in_first) return in_first.fault();
        const auto in_second = error_at(second, intensity);
        if (!in_second) return in_second.fault();
        CurveDifference row;
        row.intensity_mm_h = intensity;
        row.first_percent = *in_first;
        row.second_percent = *in_second;
        row.difference_percent = {in_second->value - in_first->value, std::hypot(in_first->u, in_second->u)};
        row.U_percent = expanded(row.difference_percent, coverage).U;
        row.en = en_number(*in_second, *in_first, coverage);
        rows.push_back(row);
    }
    if (rows.empty()) {
        return Fault{FaultCode::too_few_points, "the two curves have no intensity in common",
                     first.name + " and " + second.name, "measure both over the same range"};
    }
    return rows;
}

Result<Drift> drift_per_year(const std::vector<ServiceStretch>& stretches, double coverage) {
    if (stretches.empty()) {
        return Fault{FaultCode::too_few_points, "no stretch of service between two calibrations", "drift",
                     "a drift needs a result as left and a later one as found"};
    }
    Design design{stretches.size(), 1, {}};
    std::vector<double> change;
    SquareMatrix covariance(stretches.size());
    for (std::size_t i = 0; i < stretches.size(); ++i) {
        const ServiceStretch& stretch = stretches[i];
        const double years = stretch.to_years - stretch.from_years;
        if (!(years > 0) || !std::isfinite(years)) {
            return Fault{FaultCode::bad_value, "ends " + number(years) + " years after it began",
                         "stretch " + std::to_string(i + 1), "check the dates"};
        }
        if (!(stretch.left_percent.u >= 0 && stretch.found_percent.u >= 0)) {
            return Fault{FaultCode::not_finite,
                         "an uncertainty is not a number",
                         "stretch " + std::to_string(i + 1),
                         {}};
        }
        design.values.push_back(years);
        change.push_back(stretch.found_percent.value - stretch.left_percent.value);
        covariance(i, i) = stretch.left_percent.u * stretch.left_percent.u +
                           stretch.found_percent.u * stretch.found_percent.u;
    }
    const auto fit = fit_linear(design, change, covariance);
    if (!fit) {
        Fault fault = fit.fault();
        if (fault.where.starts_with("point")) fault.where.replace(0, 5, "stretch");
        return fault;
    }
    Drift drift;
    drift.stretches = static_cast<int>(stretches.size());
    drift.percent_per_year = {fit->parameters[0], std::sqrt(fit->covariance(0, 0))};
    drift.chi2 = fit->chi2;
    drift.dof = fit->dof;
    if (fit->dof > 0 && fit->chi2 > chi_squared_quantile(0.95, fit->dof)) {
        drift.consistent = false;
        drift.widened = true;
        drift.percent_per_year.u *= std::sqrt(fit->chi2 / fit->dof);
        drift.percent_per_year.dof = fit->dof;
    }
    drift.U_percent_per_year = expanded(drift.percent_per_year, coverage).U;
    drift.significant = std::fabs(drift.percent_per_year.value) > drift.U_percent_per_year;
    return drift;
}

Result<AccuracyRange> accuracy_range(const ErrorCurve& curve, double limit_percent, bool guarded,
                                     double coverage) {
    if (!(limit_percent > 0) || !std::isfinite(limit_percent)) {
        return Fault{FaultCode::bad_value,
                     "a limit of " + number(limit_percent) + " % is not above zero",
                     curve.name,
                     {}};
    }
    const auto excess = [&](double intensity) -> Result<double> {
        const auto error = error_at(curve, intensity);
        if (!error) return error.fault();
        const double U = guarded ? expanded(*error, coverage).U : 0;
        return std::fabs(error->value) + U - limit_percent;
    };
    const auto& x = curve.errors.points.x;
    AccuracyRange range;
    range.from_mm_h = range.to_mm_h = x.front();
    const auto start = excess(x.front());
    if (!start) return start.fault();
    if (!(*start <= 0)) return range;
    range.kept_at_all = true;
    // Between two points the curve may cross and come back: looked at in small steps, the first crossing
    // halved down to.
    constexpr int pieces = 64;
    double inside = x.front();
    for (std::size_t i = 0; i + 1 < x.size(); ++i) {
        for (int piece = 1; piece <= pieces; ++piece) {
            double outside = piece == pieces ? x[i + 1] : x[i] + (x[i + 1] - x[i]) * piece / pieces;
            const auto here = excess(outside);
            if (!here) return here.fault();
            if (*here <= 0) {
                inside = outside;
                continue;
            }
            for (int halving = 0; halving < 60; ++halving) {
                const double middle = inside + (outside - inside) / 2;
                const auto value = excess(middle);
                if (!value) return value.fault();
                (*value <= 0 ? inside : outside) = middle;
            }
            range.to_mm_h = inside;
            return range;
        }
    }
    range.to_mm_h = x.back();
    range.kept_to_the_end = true;
    return range;
}

}  // namespace tipwright::calib
