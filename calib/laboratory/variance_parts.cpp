#include "calib/laboratory/variance_parts.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

constexpr std::size_t most_values = 2000;
constexpr double tail = 0.025;
// A direction that is this small beside the others is one of rounding.
constexpr double rank_tolerance = 1e-9;

Eigen::MatrixXd indicators(const VarianceFactor& factor, int& levels) {
    std::map<int, Eigen::Index> column;
    for (const int level : factor.level) column.try_emplace(level, 0);
    Eigen::Index next = 0;
    for (auto& [level, at] : column) at = next++;
    levels = static_cast<int>(next);
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(factor.level.size()), next);
    for (std::size_t i = 0; i < factor.level.size(); ++i)
        out(static_cast<Eigen::Index>(i), column.at(factor.level[i])) = 1;
    return out;
}

// Columns that span what `wanted` adds to the space of the orthonormal `known`.
Eigen::MatrixXd added_space(const Eigen::MatrixXd& known, Eigen::MatrixXd wanted) {
    // Twice is enough for orthogonality to rounding (Giraud, Langou & Rozloznik 2005).
    for (int pass = 0; pass < 2; ++pass) wanted -= known * (known.transpose() * wanted);
    Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(wanted);
    const double scale = std::sqrt(static_cast<double>(wanted.rows()));
    Eigen::Index rank = 0;
    const auto& r = qr.matrixQR();
    while (rank < std::min(r.rows(), r.cols()) && std::abs(r(rank, rank)) > rank_tolerance * scale) ++rank;
    if (rank == 0) return {wanted.rows(), 0};
    Eigen::MatrixXd q = qr.householderQ() * Eigen::MatrixXd::Identity(wanted.rows(), rank);
    q -= known * (known.transpose() * q);
    return q;
}

// G and H of the modified large-sample intervals: 1 - 1/F(upper tail; dof, infinity) and 1/F(lower tail) - 1.
double shrink(double dof) {
    return 1 - dof / chi_squared_quantile(1 - tail, dof);
}
double grow(double dof) {
    return dof / chi_squared_quantile(tail, dof) - 1;
}

}  // namespace

Result<VarianceParts> part_variances(const std::vector<double>& values,
                                     const std::vector<VarianceFactor>& factors) {
    const auto fault = [](FaultCode code, const std::string& what, const std::string& remedy) {
        return Fault{code, what, "parts of variance", remedy};
    };
    if (values.size() < 2) return fault(FaultCode::too_few_points, "fewer than two values", "measure again");
    if (values.size() > most_values)
        return fault(FaultCode::bad_value, std::to_string(values.size()) + " values are more than 2000",
                     "take the last 2000");
    for (const double value : values)
        if (!std::isfinite(value))
            return fault(FaultCode::not_finite, "a value is not finite", "take it out");
    const auto n = static_cast<Eigen::Index>(values.size());
    Eigen::VectorXd y(n);
    for (Eigen::Index i = 0; i < n; ++i) y(i) = values[static_cast<std::size_t>(i)] - values.front();
    VarianceParts out;
    out.mean = values.front() + y.mean();
    y.array() -= y.mean();

    Eigen::MatrixXd space = Eigen::MatrixXd::Constant(n, 1, 1 / std::sqrt(static_cast<double>(n)));
    struct Fitted {
        Eigen::MatrixXd indicators, added;
    };
    std::vector<Fitted> fitted;
    for (const VarianceFactor& factor : factors) {
        if (factor.level.size() != values.size())
            return fault(FaultCode::bad_value,
                         "the levels of " + factor.name + " are not as many as the values",
                         "give one for each");
        int levels = 0;
        Eigen::MatrixXd z = indicators(factor, levels);
        Eigen::MatrixXd added = added_space(space, z);
        // Every value a level of its own leaves nothing to repeat.
        if (added.cols() == 0 || space.cols() + added.cols() >= n) {
            out.left_out.push_back(factor.name);
            continue;
        }
        VariancePart part;
        part.name = factor.name;
        part.levels = levels;
        part.dof = static_cast<double>(added.cols());
        part.mean_square = (added.transpose() * y).squaredNorm() / part.dof;
        out.parts.push_back(part);
        Eigen::MatrixXd wider(n, space.cols() + added.cols());
        wider << space, added;
        space = std::move(wider);
        fitted.push_back({std::move(z), std::move(added)});
    }
    VariancePart repeat;
    repeat.name = "repeat";
    repeat.levels = static_cast<int>(n);
    repeat.dof = static_cast<double>(n - space.cols());
    if (!(repeat.dof >= 1))
        return fault(FaultCode::too_few_points, "every value is a level of its own", "measure again");
    repeat.mean_square = (y - space * (space.transpose() * y)).squaredNorm() / repeat.dof;
    repeat.variance = repeat.mean_square;
    out.parts.push_back(repeat);

    // Mean squares are combinations of variances, upper triangular: from the last to the first. `of` keeps
    // each variance as a combination of mean squares, for its interval.
    const std::size_t count = out.parts.size();
    std::vector<std::vector<double>> of(count, std::vector<double>(count, 0.0));
    of[count - 1][count - 1] = 1;
    for (std::size_t k = count - 1; k-- > 0;) {
        VariancePart& part = out.parts[k];
        const auto share = [&](std::size_t j) {
            return (fitted[k].added.transpose() * fitted[j].indicators).squaredNorm() / part.dof;
        };
        const double own = share(k);
        of[k][k] = 1 / own;
        part.variance = (part.mean_square - repeat.variance) / own;
        of[k][count - 1] -= 1 / own;
        for (std::size_t j = k + 1; j + 1 < count; ++j) {
            const double its = share(j);
            part.variance -= its / own * out.parts[j].variance;
            for (std::size_t m = 0; m < count; ++m) of[k][m] -= its / own * of[j][m];
        }
    }
    double sum = 0, squares = 0;
    std::vector<double> in_sum(count, 0.0);
    for (std::size_t k = 0; k < count; ++k) {
        VariancePart& part = out.parts[k];
        part.sd = std::sqrt(std::max(0.0, part.variance));
        double below = 0, above = 0;
        for (std::size_t m = 0; m < count; ++m) {
            const double term = of[k][m] * out.parts[m].mean_square;
            const double g = shrink(out.parts[m].dof) * term, h = grow(out.parts[m].dof) * term;
            below += term > 0 ? g * g : h * h;
            above += term > 0 ? h * h : g * g;
        }
        part.low_sd = std::sqrt(std::max(0.0, part.variance - std::sqrt(below)));
        part.high_sd = std::sqrt(std::max(0.0, part.variance + std::sqrt(above)));
        if (part.variance > 0) {
            sum += part.variance;
            for (std::size_t m = 0; m < count; ++m) in_sum[m] += of[k][m];
        }
    }
    for (std::size_t m = 0; m < count; ++m) {
        const double term = in_sum[m] * out.parts[m].mean_square;
        squares += term * term / out.parts[m].dof;
    }
    out.total_sd = std::sqrt(sum);
    out.total_dof = squares > 0 ? sum * sum / squares : 1;
    return out;
}

}  // namespace tipwright::calib
