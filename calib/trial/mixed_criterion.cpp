#include "calib/trial/mixed_criterion.hpp"

#include <nlopt.h>

#include <cmath>
#include <limits>
#include <map>
#include <numbers>

namespace tipwright::calib::trial {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double refused = 1e300;

MatrixXd matrix_of(const Design& design) {
    return Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
        design.values.data(), static_cast<Index>(design.rows), static_cast<Index>(design.columns));
}

std::optional<Fault> fault_in(const MixedData& data) {
    const std::size_t n = data.y.size();
    const auto shape = [&](const Design& design) {
        return design.rows == n && design.values.size() == n * design.columns && design.columns > 0;
    };
    if (!shape(data.fixed) || !shape(data.random) || data.random.columns > 2 || data.specimen.size() != n ||
        !(data.run.empty() || data.run.size() == n))
        return Fault{FaultCode::bad_value, "lengths of the columns differ", "mixed model", ""};
    const auto finite = [](const std::vector<double>& values) {
        for (double value : values)
            if (!std::isfinite(value)) return false;
        return true;
    };
    if (!finite(data.y) || !finite(data.fixed.values) || !finite(data.random.values))
        return Fault{FaultCode::not_finite, "a value is not finite", "mixed model", ""};
    for (int specimen : data.specimen)
        if (specimen < 0 || static_cast<std::size_t>(specimen) >= n)
            return Fault{FaultCode::bad_value, "a specimen has a number out of range", "mixed model", ""};
    return std::nullopt;
}

}  // namespace

Result<MixedCriterion> MixedCriterion::of(const MixedData& data, Likelihood likelihood) {
    if (auto fault = fault_in(data)) return *fault;
    MixedCriterion out;
    out.restricted = likelihood == Likelihood::restricted;
    const MatrixXd X = matrix_of(data.fixed);
    const MatrixXd Z = matrix_of(data.random);
    VectorXd y = Eigen::Map<const VectorXd>(data.y.data(), static_cast<Index>(data.y.size()));
    out.rows = static_cast<double>(data.y.size());
    out.fixed = static_cast<int>(X.cols());
    out.columns = data.random.columns;

    int most = -1;
    std::map<int, std::vector<Index>> rows_of;
    for (std::size_t i = 0; i < data.specimen.size(); ++i) {
        rows_of[data.specimen[i]].push_back(static_cast<Index>(i));
        most = std::max(most, data.specimen[i]);
    }
    if (rows_of.size() < 2 || most + 1 != static_cast<int>(rows_of.size()))
        return Fault{FaultCode::too_few_points, std::to_string(rows_of.size()) + " specimens", "mixed model",
                     "measure at least two specimens of a kind"};

    const Eigen::ColPivHouseholderQR<MatrixXd> qr(X);
    if (qr.rank() < X.cols())
        return Fault{FaultCode::bad_value, "the points do not determine the curve", "mixed model",
                     "measure every specimen at the same intensities"};
    if (!(out.rows - out.fixed >= 2))
        return Fault{FaultCode::too_few_points, "no degrees of freedom are left", "mixed model",
                     "measure more specimens"};
    // What all have in common is taken off first: data that differ in their last digits only keep them.
    const VectorXd ones = VectorXd::Ones(y.size());
    const VectorXd span = qr.solve(ones);
    out.start = VectorXd::Zero(X.cols());
    if ((X * span - ones).norm() < 1e-9 * ones.norm()) {
        const double common = y(0);
        y.array() -= common;
        out.start += common * span;
    }
    const VectorXd ordinary = qr.solve(y);
    y -= X * ordinary;
    out.start += ordinary;

    std::map<int, int> runs_seen;
    for (const auto& [specimen, rows] : rows_of) {
        std::map<int, Index> runs;
        if (!data.run.empty())
            for (Index row : rows) {
                const int run = data.run[static_cast<std::size_t>(row)];
                runs.try_emplace(run, static_cast<Index>(runs.size()));
                if (runs_seen.try_emplace(run, specimen).first->second != specimen)
                    return Fault{FaultCode::bad_value, "one run belongs to two specimens", "mixed model", ""};
            }
        const Index q = Z.cols() + static_cast<Index>(runs.size());
        MatrixXd Zs = MatrixXd::Zero(static_cast<Index>(rows.size()), q);
        MatrixXd Xs(static_cast<Index>(rows.size()), X.cols());
        VectorXd ys(static_cast<Index>(rows.size()));
        for (Index i = 0; i < Zs.rows(); ++i) {
            const Index row = rows[static_cast<std::size_t>(i)];
            Zs.row(i).head(Z.cols()) = Z.row(row);
            if (!runs.empty()) Zs(i, Z.cols() + runs[data.run[static_cast<std::size_t>(row)]]) = 1;
            Xs.row(i) = X.row(row);
            ys(i) = y(row);
        }
        out.specimens.push_back(
            {Zs.transpose() * Zs, Zs.transpose() * Xs, Zs.transpose() * ys, static_cast<int>(rows.size())});
    }
    out.runs = static_cast<int>(runs_seen.size());
    out.XX = X.transpose() * X;
    out.yy = y.squaredNorm();
    if (!(out.yy > 0))
        return Fault{FaultCode::too_few_points, "the values do not scatter at all", "mixed model",
                     "give values with the digits they were measured to"};
    return out;
}

Factors MixedCriterion::factors_of(const double* free) const {
    Factors out;
    out.level = *free++;
    if (columns == 2) {
        out.cross = *free++;
        out.tilt = *free++;
    }
    if (runs > 0) out.run = *free;
    return out;
}

MatrixXd MixedCriterion::lambda(const Factors& factors, const SpecimenProducts& specimen) const {
    MatrixXd out = MatrixXd::Zero(specimen.ZZ.rows(), specimen.ZZ.rows());
    const Index q = static_cast<Index>(columns);
    out(0, 0) = factors.level;
    if (q == 2) {
        out(1, 0) = factors.cross;
        out(1, 1) = factors.tilt;
    }
    for (Index i = q; i < out.rows(); ++i) out(i, i) = factors.run;
    return out;
}

CriterionState MixedCriterion::state(const Factors& factors) const {
    CriterionState out;
    MatrixXd XVX = XX;
    VectorXd XVy = VectorXd::Zero(fixed);  // the residuals are at right angles to X
    double yVy = yy;
    for (const SpecimenProducts& one : specimens) {
        const MatrixXd factor = lambda(factors, one);
        MatrixXd M = factor.transpose() * one.ZZ * factor;
        M.diagonal().array() += 1;
        const Eigen::LLT<MatrixXd> llt(M);
        if (llt.info() != Eigen::Success) return out;
        MatrixXd S = factor.transpose() * one.ZX;
        VectorXd t = factor.transpose() * one.Zy;
        llt.matrixL().solveInPlace(S);
        llt.matrixL().solveInPlace(t);
        for (Index i = 0; i < M.rows(); ++i) out.log_determinants += 2 * std::log(llt.matrixLLT()(i, i));
        XVX.noalias() -= S.transpose() * S;
        XVy.noalias() -= S.transpose() * t;
        yVy -= t.squaredNorm();
    }
    const Eigen::LLT<MatrixXd> llt(XVX);
    if (llt.info() != Eigen::Success) return out;
    if (restricted)
        for (Index i = 0; i < XVX.rows(); ++i) out.log_determinants += 2 * std::log(llt.matrixLLT()(i, i));
    out.b = llt.solve(XVy);
    out.rss = yVy - XVy.dot(out.b);
    out.XVX = std::move(XVX);
    out.ok = out.rss > 0 && std::isfinite(out.log_determinants);
    return out;
}

double MixedCriterion::profiled(const Factors& factors) const {
    const CriterionState now = state(factors);
    if (!now.ok) return refused;
    const double f = degrees();
    return now.log_determinants + f * (1 + std::log(2 * std::numbers::pi * now.rss / f));
}

double MixedCriterion::at(const Factors& factors, double s) const {
    const CriterionState now = state(factors);
    if (!now.ok || !(s > 0)) return refused;
    return now.log_determinants + degrees() * std::log(2 * std::numbers::pi * s * s) + now.rss / (s * s);
}

Minimum minimise(Objective objective, void* data, std::vector<double> start, const std::vector<double>& low,
                 const std::vector<double>& high, double step, double tolerance) {
    Minimum best{start, objective(static_cast<unsigned>(start.size()), start.data(), nullptr, data)};
    constexpr int rounds = 6;
    constexpr int most_evaluations = 2000;
    for (int round = 0; round < rounds; ++round) {
        // One variable is too few for BOBYQA's quadratic model.
        nlopt_opt optimiser = nlopt_create(start.size() > 1 ? NLOPT_LN_BOBYQA : NLOPT_LN_SBPLX,
                                           static_cast<unsigned>(start.size()));
        nlopt_set_min_objective(optimiser, objective, data);
        nlopt_set_lower_bounds(optimiser, low.data());
        nlopt_set_upper_bounds(optimiser, high.data());
        nlopt_set_xtol_rel(optimiser, tolerance);
        nlopt_set_xtol_abs1(optimiser, tolerance);
        nlopt_set_initial_step1(optimiser, step);
        nlopt_set_maxeval(optimiser, most_evaluations);
        std::vector<double> at = best.at;
        double value = best.value;
        // A stop by rounding errors leaves the best point in place.
        (void)nlopt_optimize(optimiser, at.data(), &value);
        nlopt_destroy(optimiser);
        const double gained = best.value - value;
        if (value < best.value) best = {std::move(at), value};
        if (!(gained > 1e-9 * (1 + std::abs(best.value)))) break;
        step /= 4;
    }
    return best;
}

}  // namespace tipwright::calib::trial
