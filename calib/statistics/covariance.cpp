#include "calib/statistics/covariance.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "calib/statistics/factor_columns.hpp"

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
    FactorColumns L(n, n);
    for (std::size_t j = 0; j < n; ++j) {
        double* const column = L[j];
        column[j] = scale[j] > 0 ? 1 : 0;
        for (std::size_t i = j + 1; i < n; ++i) column[i] = m(i, j) * scale[i] * scale[j];
        L.take_off_earlier(j);
        const double pivot = column[j];
        if (pivot < -pivot_tolerance) return j;
        const bool zero = pivot <= pivot_tolerance;
        // A variable already spent can have no covariance left with a later one.
        for (std::size_t i = j + 1; zero && i < n; ++i)
            if (std::fabs(column[i]) > 2 * std::sqrt(pivot_tolerance)) return i;
        const double inverse = zero ? 0 : 1 / std::sqrt(pivot);
        for (std::size_t i = j; i < n; ++i) column[i] *= inverse;
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

Outcome check_symmetry(const SquareMatrix& m, std::size_t n, std::string_view name, std::string_view item) {
    if (Outcome entries = check_entries(m, n, name, item); !entries) return entries;
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            if (m(i, j) == m(j, i)) continue;
            const double limit = std::sqrt(m(i, i) * m(j, j));
            if (!(std::fabs(m(i, j) - m(j, i)) <= symmetry_tolerance * limit)) {
                return bad(name, "is not symmetric: " + number(m(i, j)) + " against " + number(m(j, i)), item,
                           i);
            }
        }
    }
    return Done{};
}

// [cov_x cov_xy; cov_xy' cov_y]; cov_x may be empty.
SquareMatrix joint_of(const SquareMatrix& cov_x, const SquareMatrix& cov_y, const SquareMatrix& cov_xy) {
    const std::size_t n = cov_y.n;
    SquareMatrix joint(2 * n);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            joint(i, j) = cov_x.n != 0 ? cov_x(i, j) : 0;
            joint(n + i, n + j) = cov_y(i, j);
            joint(i, n + j) = joint(n + j, i) = cov_xy(i, j);
        }
    }
    return joint;
}

}  // namespace

Outcome check_covariance(const SquareMatrix& m, std::size_t n, std::string_view name, std::string_view item) {
    if (Outcome symmetric = check_symmetry(m, n, name, item); !symmetric) return symmetric;
    if (const std::size_t i = first_indefinite(m); i < n) {
        return bad(name, "is indefinite: no quantities can be correlated so", item, i);
    }
    return Done{};
}

Outcome check_joint_covariance(const SquareMatrix& cov_x, const SquareMatrix& cov_y,
                               const SquareMatrix& cov_xy, std::size_t n) {
    constexpr const char* of_x = "covariance of x";
    constexpr const char* of_y = "covariance of y";
    // Where the whole is sound its parts are; else they are looked at one by one, to name the first that is
    // not.
    if (cov_xy.n == n && cov_xy.values.size() == n * n && check_symmetry(cov_y, n, of_y, "point") &&
        (cov_x.n == 0 || check_symmetry(cov_x, n, of_x, "point")) &&
        std::all_of(cov_xy.values.begin(), cov_xy.values.end(), [](double v) { return std::isfinite(v); }) &&
        first_indefinite(joint_of(cov_x, cov_y, cov_xy)) == 2 * n)
        return Done{};
    if (Outcome y = check_covariance(cov_y, n, of_y); !y) return y;
    if (cov_x.n != 0) {
        if (Outcome x = check_covariance(cov_x, n, of_x); !x) return x;
    }
    if (cov_xy.n == 0) return Done{};
    if (cov_xy.n != n || cov_xy.values.size() != n * n) {
        return Fault{FaultCode::bad_covariance,
                     "covariance of x with y has " + std::to_string(cov_xy.n) + " rows for " +
                         std::to_string(n) + " points",
                     "covariance of x with y",
                     {}};
    }
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            if (!std::isfinite(cov_xy(i, j))) {
                return Fault{FaultCode::not_finite,
                             "covariance of x with y holds a value that is not finite",
                             "point " + std::to_string(i + 1),
                             {}};
            }
        }
    }
    if (const std::size_t i = first_indefinite(joint_of(cov_x, cov_y, cov_xy)); i < 2 * n) {
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
