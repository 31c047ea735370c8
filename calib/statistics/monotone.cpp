#include "calib/statistics/monotone.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>

#include "calib/statistics/covariance.hpp"

namespace tipwright::calib {

namespace {

// Slopes at the points: mean of the neighbouring secants, zero where these disagree in sign, then shortened
// so that (alpha, beta) lies in the circle of radius 3 (Fritsch and Carlson, section 4).
std::vector<double> tangents_of(const std::vector<double>& x, const std::vector<double>& y) {
    const std::size_t n = x.size();
    std::vector<double> secant(n - 1);
    for (std::size_t i = 0; i + 1 < n; ++i) secant[i] = (y[i + 1] - y[i]) / (x[i + 1] - x[i]);
    std::vector<double> tangent(n);
    tangent.front() = secant.front();
    tangent.back() = secant.back();
    for (std::size_t i = 1; i + 1 < n; ++i) {
        tangent[i] = secant[i - 1] * secant[i] > 0 ? (secant[i - 1] + secant[i]) / 2 : 0;
    }
    for (std::size_t i = 0; i + 1 < n; ++i) {
        if (secant[i] == 0) {
            tangent[i] = tangent[i + 1] = 0;
            continue;
        }
        const double alpha = tangent[i] / secant[i];
        const double beta = tangent[i + 1] / secant[i];
        const double square = alpha * alpha + beta * beta;
        if (square > 9) {
            const double shorter = 3 / std::sqrt(square);
            tangent[i] = shorter * alpha * secant[i];
            tangent[i + 1] = shorter * beta * secant[i];
        }
    }
    return tangent;
}

SquareMatrix reordered(const SquareMatrix& matrix, const std::vector<std::size_t>& order) {
    SquareMatrix result(matrix.n);
    for (std::size_t i = 0; i < matrix.n; ++i) {
        for (std::size_t j = 0; j < matrix.n; ++j) result(i, j) = matrix(order[i], order[j]);
    }
    return result;
}

// Change of the value at x per unit of each coordinate, by a central difference over a tenth of its
// uncertainty.
std::vector<double> sensitivities(const MonotoneInterpolation& interpolation, const SquareMatrix& covariance,
                                  bool to_x, double at) {
    const auto& points = interpolation.points;
    std::vector<double> result(points.x.size(), 0.0);
    if (covariance.n == 0) return result;
    for (std::size_t i = 0; i < result.size(); ++i) {
        const double u = std::sqrt(covariance(i, i));
        if (!(u > 0)) continue;
        double h = u / 10;
        if (to_x) {
            // Points must not change places.
            double room = std::numeric_limits<double>::infinity();
            if (i > 0) room = std::min(room, points.x[i] - points.x[i - 1]);
            if (i + 1 < result.size()) room = std::min(room, points.x[i + 1] - points.x[i]);
            h = std::min(h, room / 100);
        }
        const auto value = [&](double shift) {
            std::vector<double> x = points.x;
            std::vector<double> y = points.y;
            (to_x ? x : y)[i] += shift;
            return MonotoneCurve(std::move(x), std::move(y)).value(at);
        };
        result[i] = (value(h) - value(-h)) / (2 * h);
    }
    return result;
}

double quadratic_form(const std::vector<double>& a, const SquareMatrix& m, const std::vector<double>& b) {
    double sum = 0;
    for (std::size_t i = 0; i < m.n; ++i) {
        for (std::size_t j = 0; j < m.n; ++j) sum += a[i] * m(i, j) * b[j];
    }
    return sum;
}

}  // namespace

MonotoneCurve::MonotoneCurve(std::vector<double> x, std::vector<double> y)
    : x_(std::move(x)), y_(std::move(y)), tangents_(tangents_of(x_, y_)) {}

std::size_t MonotoneCurve::segment(double x) const {
    const auto above = std::upper_bound(x_.begin() + 1, x_.end() - 1, x);
    return static_cast<std::size_t>(above - x_.begin()) - 1;
}

double MonotoneCurve::value(double x) const {
    const std::size_t i = segment(x);
    const double h = x_[i + 1] - x_[i];
    const double t = (x - x_[i]) / h;
    const double rest = 1 - t;
    return y_[i] * (1 + 2 * t) * rest * rest + y_[i + 1] * t * t * (3 - 2 * t) +
           h * t * rest * (tangents_[i] * rest - tangents_[i + 1] * t);
}

double MonotoneCurve::slope(double x) const {
    const std::size_t i = segment(x);
    const double h = x_[i + 1] - x_[i];
    const double t = (x - x_[i]) / h;
    return 6 * t * (1 - t) * (y_[i + 1] - y_[i]) / h + tangents_[i] * (1 - t) * (1 - 3 * t) +
           tangents_[i + 1] * t * (3 * t - 2);
}

double MonotoneCurve::linear(double x) const {
    const std::size_t i = segment(x);
    const double t = (x - x_[i]) / (x_[i + 1] - x_[i]);
    return y_[i] * (1 - t) + y_[i + 1] * t;
}

Result<MonotoneInterpolation> make_monotone_interpolation(const CalibrationPoints& points) {
    const std::size_t n = points.x.size();
    if (Outcome checked = check_points(points, 2); !checked) return checked.fault();
    std::vector<std::size_t> order(n);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return points.x[a] < points.x[b]; });
    CalibrationPoints sorted;
    for (const std::size_t i : order) {
        if (!sorted.x.empty() && points.x[i] == sorted.x.back()) {
            return Fault{FaultCode::duplicate, "two points lie at the same x",
                         "point " + std::to_string(i + 1), "join them to their mean"};
        }
        sorted.x.push_back(points.x[i]);
        sorted.y.push_back(points.y[i]);
    }
    if (points.cov_x.n != 0) sorted.cov_x = reordered(points.cov_x, order);
    sorted.cov_y = reordered(points.cov_y, order);
    if (points.cov_xy.n != 0) sorted.cov_xy = reordered(points.cov_xy, order);
    MonotoneCurve curve(sorted.x, sorted.y);
    return MonotoneInterpolation{std::move(sorted), std::move(curve)};
}

std::vector<double> weights_of_points(const MonotoneInterpolation& interpolation, double x) {
    return sensitivities(interpolation, interpolation.points.cov_y, false, x);
}

Result<InterpolatedValue> evaluate(const MonotoneInterpolation& interpolation, const Uncertain& x) {
    const auto& points = interpolation.points;
    if (!(x.value >= points.x.front() && x.value <= points.x.back()) || !(x.u >= 0)) {
        return Fault{FaultCode::bad_value,
                     "x = " + std::to_string(x.value) + " lies outside the points, " +
                         std::to_string(points.x.front()) + " to " + std::to_string(points.x.back()),
                     "interpolation", "nothing is known outside the points"};
    }
    const auto to_y = sensitivities(interpolation, points.cov_y, false, x.value);
    const auto to_x = sensitivities(interpolation, points.cov_x, true, x.value);
    const double from_points = quadratic_form(to_y, points.cov_y, to_y) +
                               quadratic_form(to_x, points.cov_x, to_x) +
                               2 * quadratic_form(to_x, points.cov_xy, to_y);
    const double from_x = interpolation.curve.slope(x.value) * x.u;
    InterpolatedValue result;
    const double value = interpolation.curve.value(x.value);
    result.u_points = std::sqrt(std::max(from_points, 0.0) + from_x * from_x);
    result.u_between = std::fabs(value - interpolation.curve.linear(x.value)) / std::sqrt(3.0);
    result.total = {value, std::hypot(result.u_points, result.u_between)};
    return result;
}

}  // namespace tipwright::calib
