#include "calib/decision/comparison.hpp"

#include <algorithm>
#include <cmath>

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
    return covariance(error_contributions(a, "first", 100 + a.error_percent.value),
                      error_contributions(b, "second", 100 + b.error_percent.value));
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

double en_number(const Uncertain& a, const Contributions& of_a, const Uncertain& b, const Contributions& of_b,
                 double coverage) {
    Contributions parts = of_a;
    add_scaled(parts, of_b, -1);
    const double difference = a.value - b.value;
    const Uncertain together = combined(difference, parts);
    if (!(together.u * together.u > 1e-12 * (a.u * a.u + b.u * b.u)))
        return difference == 0 ? 0 : std::copysign(std::numeric_limits<double>::infinity(), difference);
    return difference / expanded(together, coverage).U;
}

Result<ErrorCurve> error_curve(std::string name, double time_years, const std::vector<StepResult>& steps,
                               std::string own) {
    if (own.empty()) own = name + " at " + number(time_years);
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
    const bool at_rest = usable.empty() && !steps.empty();
    std::vector<Group> groups;
    if (at_rest) {
        // One value, at both ends of a range that only makes a curve of it.
        groups.assign(2, Group{});
        groups.back().intensity = static_to_mm_h;
        for (Group& group : groups)
            for (const StepResult& step : steps) group.steps.push_back(&step);
    }
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
    std::vector<Contributions> parts(groups.size());
    for (std::size_t i = 0; i < groups.size(); ++i) {
        double sum = 0;
        for (const StepResult* step : groups[i].steps) {
            sum += step->error_percent.value;
            const std::string of_step = own + ", step " + std::to_string(step->observation.step);
            add_scaled(parts[i], error_contributions(*step, of_step, 100 + step->error_percent.value),
                       1 / static_cast<double>(groups[i].steps.size()));
        }
        points.x.push_back(groups[i].intensity);
        points.y.push_back(sum / static_cast<double>(groups[i].steps.size()));
        for (std::size_t j = 0; j <= i; ++j)
            points.cov_y(i, j) = points.cov_y(j, i) = covariance(parts[i], parts[j]);
    }
    if (at_rest) {
        MonotoneCurve level(points.x, points.y);
        return ErrorCurve{
            std::move(name),  time_years, MonotoneInterpolation{std::move(points), std::move(level)},
            std::move(parts), true,       std::move(own)};
    }
    auto made = make_monotone_interpolation(points);
    if (!made) {
        Fault fault = made.fault();
        fault.where = name + ", " + fault.where;
        return fault;
    }
    return ErrorCurve{std::move(name), time_years, std::move(*made), std::move(parts), false, std::move(own)};
}

Result<Uncertain> error_at(const ErrorCurve& curve, double intensity_mm_h) {
    auto value = evaluate(curve.errors, {intensity_mm_h, 0});
    if (!value) {
        Fault fault = value.fault();
        fault.where = curve.name;
        return fault;
    }
    Uncertain error = value->total;
    if (!curve.parts.empty()) error.dof = combined(0, parts_at(curve, intensity_mm_h)).dof;
    return error;
}

Contributions parts_at(const ErrorCurve& curve, double intensity_mm_h) {
    const auto value = evaluate(curve.errors, {intensity_mm_h, 0});
    if (!value) return {};
    const auto weights = weights_of_points(curve.errors, intensity_mm_h);
    Contributions parts;
    for (std::size_t i = 0; i < weights.size() && i < curve.parts.size(); ++i)
        if (weights[i] != 0) add_scaled(parts, curve.parts[i], weights[i]);
    if (value->u_between > 0)
        parts.push_back({curve.own + ", between the points", "", value->u_between, infinite_dof, 0});
    return parts;
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
        const Contributions of_first = parts_at(first, intensity);
        const Contributions of_second = parts_at(second, intensity);
        Contributions difference = of_second;
        add_scaled(difference, of_first, -1);
        row.difference_percent = combined(in_second->value - in_first->value, difference);
        row.U_percent = expanded(row.difference_percent, coverage).U;
        row.en = en_number(*in_second, of_second, *in_first, of_first, coverage);
        rows.push_back(row);
    }
    if (rows.empty()) {
        return Fault{FaultCode::too_few_points, "the two curves have no intensity in common",
                     first.name + " and " + second.name, "measure both over the same range"};
    }
    return rows;
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
