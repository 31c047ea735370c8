#include "calib/statistics/covariance.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace tipwright::calib {

namespace {

// Room for published matrices rounded to a few digits: pivots of the correlation matrix above
// -pivot_tolerance count as zero. A correlation of 1.001 is refused.
constexpr double pivot_tolerance = 1e-9;
constexpr double symmetry_tolerance = 1e-9;

Fault bad(std::string_view name, std::string what, std::string_view item, std::size_t index) {
    return Fault{FaultCode::bad_covariance, std::string(name) + " " + std::move(what),
                 std::string(item) + " " + std::to_string(index + 1),
                 "correct the uncertainties of this " + std::string(item)};
}

std::string number(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.6g", value);
    return text;
}

// Index at which Cholesky's factorisation of the correlation matrix shows a negative eigenvalue, or n.
std::size_t first_indefinite(const SquareMatrix& m) {
    const std::size_t n = m.n;
    std::vector<double> scale(n);
    for (std::size_t i = 0; i < n; ++i) scale[i] = m(i, i) > 0 ? 1 / std::sqrt(m(i, i)) : 0;
    SquareMatrix L(n);
    for (std::size_t j = 0; j < n; ++j) {
        double pivot = scale[j] > 0 ? 1 : 0;
        for (std::size_t k = 0; k < j; ++k) pivot -= L(j, k) * L(j, k);
        if (pivot < -pivot_tolerance) return j;
        const bool zero = pivot <= pivot_tolerance;
        L(j, j) = zero ? 0 : std::sqrt(pivot);
        for (std::size_t i = j + 1; i < n; ++i) {
            double rest = m(i, j) * scale[i] * scale[j];
            for (std::size_t k = 0; k < j; ++k) rest -= L(i, k) * L(j, k);
            // A variable already spent can have no covariance left with a later one.
            if (zero && std::fabs(rest) > 2 * std::sqrt(pivot_tolerance)) return i;
            L(i, j) = zero ? 0 : rest / L(j, j);
        }
    }
    return n;
}

Outcome check_entries(const SquareMatrix& m, std::size_t n, std::string_view name, std::string_view item) {
    if (m.n != n || m.values.size() != n * n) {
        return Fault{FaultCode::bad_covariance,
                     std::string(name) + " has " + std::to_string(m.n) + " rows for " + std::to_string(n) +
                         " " + std::string(item) + "s",
                     std::string(name),
                     {}};
    }
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            if (!std::isfinite(m(i, j))) {
                return Fault{FaultCode::not_finite,
                             std::string(name) + " holds a value that is not finite",
                             std::string(item) + " " + std::to_string(i + 1),
                             {}};
            }
        }
        if (m(i, i) < 0) return bad(name, "has the negative variance " + number(m(i, i)), item, i);
    }
    return Done{};
}

}  // namespace

Outcome check_covariance(const SquareMatrix& m, std::size_t n, std::string_view name, std::string_view item) {
    if (Outcome entries = check_entries(m, n, name, item); !entries) return entries;
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            const double limit = std::sqrt(m(i, i) * m(j, j));
            if (!(std::fabs(m(i, j) - m(j, i)) <= symmetry_tolerance * limit)) {
                return bad(name, "is not symmetric: " + number(m(i, j)) + " against " + number(m(j, i)), item,
                           i);
            }
        }
    }
    if (const std::size_t i = first_indefinite(m); i < n) {
        return bad(name, "is indefinite: no quantities can be correlated so", item, i);
    }
    return Done{};
}

Outcome check_joint_covariance(const SquareMatrix& cov_x, const SquareMatrix& cov_y,
                               const SquareMatrix& cov_xy, std::size_t n) {
    if (Outcome y = check_covariance(cov_y, n, "covariance of y"); !y) return y;
    if (cov_x.n != 0) {
        if (Outcome x = check_covariance(cov_x, n, "covariance of x"); !x) return x;
    }
    if (cov_xy.n == 0) return Done{};
    if (cov_xy.n != n || cov_xy.values.size() != n * n) {
        return Fault{FaultCode::bad_covariance,
                     "covariance of x with y has " + std::to_string(cov_xy.n) + " rows for " +
                         std::to_string(n) + " points",
                     "covariance of x with y",
                     {}};
    }
    SquareMatrix joint(2 * n);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            if (!std::isfinite(cov_xy(i, j))) {
                return Fault{FaultCode::not_finite,
                             "covariance of x with y holds a value that is not finite",
                             "point " + std::to_string(i + 1),
                             {}};
            }
            joint(i, j) = cov_x.n != 0 ? cov_x(i, j) : 0;
            joint(n + i, n + j) = cov_y(i, j);
            joint(i, n + j) = joint(n + j, i) = cov_xy(i, j);
        }
    }
    if (const std::size_t i = first_indefinite(joint); i < 2 * n) {
        return bad("joint covariance of x and y", "is indefinite: no quantities can be correlated so",
                   "point", i % n);
    }
    return Done{};
}

std::size_t first_singular(std::span<const double> values, std::size_t n) {
    constexpr double relative_pivot = 1e-14;
    SquareMatrix L(n);
    for (std::size_t j = 0; j < n; ++j) {
        double pivot = values[j * n + j];
        for (std::size_t k = 0; k < j; ++k) pivot -= L(j, k) * L(j, k);
        if (!(pivot > relative_pivot * values[j * n + j])) return j;
        L(j, j) = std::sqrt(pivot);
        for (std::size_t i = j + 1; i < n; ++i) {
            double rest = values[i * n + j];
            for (std::size_t k = 0; k < j; ++k) rest -= L(i, k) * L(j, k);
            L(i, j) = rest / L(j, j);
        }
    }
    return n;
}

Fault singular_covariance(std::size_t point) {
    return Fault{
        FaultCode::bad_covariance,
        "the covariance of the points is singular from here on: this point has zero uncertainty or is fully "
        "correlated with earlier ones",
        "point " + std::to_string(point + 1), "give every point an uncertainty of its own"};
}

Outcome check_points(const CalibrationPoints& points, std::size_t parameters) {
    const std::size_t n = points.x.size();
    const std::string where = "calibration points";
    if (points.y.size() != n) {
        return Fault{FaultCode::bad_value,
                     std::to_string(n) + " values of x but " + std::to_string(points.y.size()) + " of y",
                     where,
                     {}};
    }
    if (n > max_points) {
        return Fault{FaultCode::bad_value,
                     std::to_string(n) + " points are more than " + std::to_string(max_points),
                     where,
                     {}};
    }
    for (std::size_t i = 0; i < n; ++i) {
        if (!std::isfinite(points.x[i]) || !std::isfinite(points.y[i])) {
            return Fault{FaultCode::not_finite, "x or y is not a finite number",
                         "point " + std::to_string(i + 1), "leave the point out"};
        }
    }
    if (n < parameters) {
        return Fault{
            FaultCode::too_few_points,
            std::to_string(n) + " points cannot give " + std::to_string(parameters) + " coefficients", where,
            "measure more points or choose a simpler function"};
    }
    std::vector<double> distinct = points.x;
    std::sort(distinct.begin(), distinct.end());
    const auto different =
        static_cast<std::size_t>(std::unique(distinct.begin(), distinct.end()) - distinct.begin());
    if (different < parameters) {
        return Fault{FaultCode::too_few_points,
                     std::to_string(different) + " different values of x cannot give " +
                         std::to_string(parameters) + " coefficients",
                     where, "spread the points over more values of x"};
    }
    return check_joint_covariance(points.cov_x, points.cov_y, points.cov_xy, n);
}

}  // namespace tipwright::calib
