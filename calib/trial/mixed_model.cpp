#include "calib/trial/mixed_model.hpp"

#include <cmath>
#include <limits>

#include "calib/trial/mixed_criterion.hpp"

namespace tipwright::calib::trial {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

SquareMatrix square(const MatrixXd& matrix) {
    SquareMatrix out(static_cast<std::size_t>(matrix.rows()));
    for (Index i = 0; i < matrix.rows(); ++i)
        for (Index j = 0; j < matrix.cols(); ++j)
            out(static_cast<std::size_t>(i), static_cast<std::size_t>(j)) = matrix(i, j);
    return out;
}

double profiled_objective(unsigned, const double* free, double*, void* data) {
    const auto& criterion = *static_cast<const MixedCriterion*>(data);
    return criterion.profiled(criterion.factors_of(free));
}

// The change of V with each variance is Z E Z' for all but the last, whose E stands for the identity.
std::vector<MatrixXd> structures(const MixedCriterion& criterion, const SpecimenProducts& specimen) {
    const Index n = specimen.ZZ.rows();
    const Index q = static_cast<Index>(criterion.columns);
    std::vector<MatrixXd> out;
    const auto add = [&](Index i, Index j) {
        out.push_back(MatrixXd::Zero(n, n));
        out.back()(i, j) = out.back()(j, i) = 1;
    };
    add(0, 0);
    if (q == 2) {
        add(1, 0);
        add(1, 1);
    }
    if (criterion.runs > 0) {
        out.push_back(MatrixXd::Zero(n, n));
        for (Index i = q; i < n; ++i) out.back()(i, i) = 1;
    }
    return out;
}

// Kenward & Roger's P, Q and the expected information, summed over specimens; names as there, P with the sign
// of X' V^-1 K V^-1 X.
struct Sums {
    std::vector<MatrixXd> P;
    std::vector<std::vector<MatrixXd>> Q;
    MatrixXd traces;  // of V^-1 K_a V^-1 K_b
};

Sums sums_of(const MixedCriterion& criterion, const Factors& factors, double s2) {
    const std::size_t count = criterion.free_factors() + 1;
    const std::size_t last = count - 1;
    const MatrixXd zero = MatrixXd::Zero(criterion.fixed, criterion.fixed);
    Sums out{std::vector<MatrixXd>(count, zero),
             std::vector<std::vector<MatrixXd>>(count, std::vector<MatrixXd>(count, zero)),
             MatrixXd::Zero(static_cast<Index>(count), static_cast<Index>(count))};
    // What X contributes by itself to X' V^-2 X and X' V^-3 X.
    out.P[last] = criterion.XX / (s2 * s2);
    out.Q[last][last] = criterion.XX / (s2 * s2 * s2);
    for (const SpecimenProducts& one : criterion.specimens) {
        const MatrixXd factor = criterion.lambda(factors, one);
        MatrixXd M = factor.transpose() * one.ZZ * factor;
        M.diagonal().array() += 1;
        const MatrixXd H = factor * M.llt().solve(factor.transpose());           // V^-1 = (I - Z H Z') / s2
        const MatrixXd D = MatrixXd::Identity(H.rows(), H.cols()) - one.ZZ * H;  // Z' V^-1 = D Z' / s2
        const MatrixXd U1 = D * one.ZX / s2;
        const MatrixXd U2 = D * U1 / s2;
        const MatrixXd T1 = D * one.ZZ / s2;
        const MatrixXd T2 = D * T1 / s2;
        const std::vector<MatrixXd> E = structures(criterion, one);
        for (std::size_t a = 0; a < last; ++a) {
            const Index ia = static_cast<Index>(a);
            const Index il = static_cast<Index>(last);
            out.P[a] += U1.transpose() * E[a] * U1;
            for (std::size_t b = 0; b < last; ++b) {
                out.Q[a][b] += U1.transpose() * E[a] * T1 * E[b] * U1;
                out.traces(ia, static_cast<Index>(b)) += (E[a] * T1 * E[b] * T1).trace();
            }
            const MatrixXd with_identity = U2.transpose() * E[a] * U1;
            out.Q[last][a] += with_identity;
            out.Q[a][last] += with_identity.transpose();
            const double trace = (E[a] * T2).trace();
            out.traces(il, ia) += trace;
            out.traces(ia, il) += trace;
        }
        const MatrixXd HB = H * one.ZX;
        const MatrixXd AHB = one.ZZ * HB;
        const MatrixXd XX1 = -2 * one.ZX.transpose() * HB + HB.transpose() * AHB;  // X1'X1 - X'X
        out.P[last] += XX1 / (s2 * s2);
        const MatrixXd ZX1 = D * one.ZX;
        out.Q[last][last] += (XX1 - ZX1.transpose() * H * ZX1) / (s2 * s2 * s2);
        const MatrixXd HA = H * one.ZZ;
        out.traces(static_cast<Index>(last), static_cast<Index>(last)) +=
            (one.rows - 2 * HA.trace() + (HA * HA).trace()) / (s2 * s2);
    }
    return out;
}

void add_inference(MixedModel& model, const MixedCriterion& criterion, const Factors& factors, double s2,
                   const MatrixXd& XVX) {
    const Sums sums = sums_of(criterion, factors, s2);
    const MatrixXd Phi = (XVX / s2).llt().solve(MatrixXd::Identity(XVX.rows(), XVX.cols()));
    const Index count = sums.traces.rows();
    MatrixXd information(count, count);
    const auto at = [](Index i) { return static_cast<std::size_t>(i); };
    for (Index a = 0; a < count; ++a)
        for (Index b = 0; b < count; ++b) {
            information(a, b) = 0.5 * sums.traces(a, b);
            if (criterion.restricted)
                information(a, b) -= (Phi * sums.Q[at(a)][at(b)]).trace() -
                                     0.5 * (Phi * sums.P[at(a)] * Phi * sums.P[at(b)]).trace();
        }
    // Scaled to a unit diagonal before it is inverted: variances may differ by many orders.
    const VectorXd scale = information.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
    const MatrixXd scaled = scale.asDiagonal() * information * scale.asDiagonal();
    const MatrixXd W =
        scale.asDiagonal() * scaled.completeOrthogonalDecomposition().pseudoInverse() * scale.asDiagonal();
    MatrixXd middle = MatrixXd::Zero(Phi.rows(), Phi.cols());
    for (Index a = 0; a < count; ++a)
        for (Index b = 0; b < count; ++b)
            middle += W(a, b) * (sums.Q[at(a)][at(b)] - sums.P[at(a)] * Phi * sums.P[at(b)]);
    MatrixXd adjusted = Phi + 2 * Phi * middle * Phi;
    adjusted = 0.5 * (adjusted + adjusted.transpose().eval());
    model.plain_covariance = square(Phi);
    model.covariance = square(adjusted);
    model.variances_covariance = square(W);
    for (const MatrixXd& P : sums.P) model.sensitivities.push_back(square(P));
}

}  // namespace

Result<MixedModel> fit_mixed_model(const MixedData& data, Likelihood likelihood) {
    auto made = MixedCriterion::of(data, likelihood);
    if (!made) return made.fault();
    MixedCriterion& criterion = *made;

    const std::size_t free = criterion.free_factors();
    std::vector<double> low(free, 0);
    std::vector<double> high(free, 1e6);
    if (criterion.columns == 2) low[1] = -1e6;
    Minimum best;
    best.value = std::numeric_limits<double>::infinity();
    // From several starts: a spread far from the residual's is a long way from 1.
    for (double start : {0.3, 1.0, 8.0}) {
        std::vector<double> at(free, start);
        if (criterion.columns == 2) at[1] = 0;
        Minimum found = minimise(profiled_objective, &criterion, at, low, high, 0.3 * start, 1e-9);
        if (found.value < best.value) best = std::move(found);
    }
    const Factors factors = best.at.empty() ? Factors{} : criterion.factors_of(best.at.data());
    const CriterionState state = criterion.state(factors);
    if (best.at.empty() || !state.ok)
        return Fault{FaultCode::no_convergence, "the likelihood has no maximum", "mixed model",
                     "check the values for one that does not belong"};

    MixedModel model;
    model.likelihood = likelihood;
    model.rows = data.y.size();
    model.specimens = static_cast<int>(criterion.specimens.size());
    model.runs = criterion.runs;
    model.random_columns = criterion.columns;
    model.factors = {factors.level, factors.cross, factors.tilt, factors.run};
    model.criterion = best.value;
    const double s2 = state.rss / criterion.degrees();
    const VectorXd b = criterion.start + state.b;
    model.parameters.assign(b.data(), b.data() + b.size());
    model.variances.push_back(s2 * factors.level * factors.level);
    if (criterion.columns == 2) {
        model.variances.push_back(s2 * factors.level * factors.cross);
        model.variances.push_back(s2 * (factors.cross * factors.cross + factors.tilt * factors.tilt));
    }
    if (criterion.runs > 0) model.variances.push_back(s2 * factors.run * factors.run);
    model.variances.push_back(s2);
    for (const SpecimenProducts& one : criterion.specimens) {
        const MatrixXd factor = criterion.lambda(factors, one);
        MatrixXd M = factor.transpose() * one.ZZ * factor;
        M.diagonal().array() += 1;
        const VectorXd g = factor * M.llt().solve(factor.transpose() * (one.Zy - one.ZX * state.b));
        model.specimen_effects.emplace_back(g.data(), g.data() + criterion.columns);
    }
    add_inference(model, criterion, factors, s2, state.XVX);
    return model;
}

FunctionalResult evaluate(const MixedModel& model, const Functional& functional) {
    const std::size_t p = model.parameters.size();
    FunctionalResult out;
    std::vector<double> left(p, 0);  // Phi c
    for (std::size_t i = 0; i < p; ++i) {
        out.value += functional.c[i] * model.parameters[i];
        for (std::size_t j = 0; j < p; ++j) {
            out.variance += functional.c[i] * model.covariance(i, j) * functional.c[j];
            left[i] += model.plain_covariance(i, j) * functional.c[j];
        }
    }
    std::vector<double> gradient;  // of the variance by each variance of the model
    for (const SquareMatrix& P : model.sensitivities) {
        double sum = 0;
        for (std::size_t i = 0; i < p; ++i)
            for (std::size_t j = 0; j < p; ++j) sum += left[i] * P(i, j) * left[j];
        gradient.push_back(sum);
    }
    std::vector<double> own(gradient.size(), 0);
    if (!functional.z.empty()) {
        own[0] = functional.z[0] * functional.z[0];
        if (model.random_columns == 2) {
            own[1] = 2 * functional.z[0] * functional.z[1];
            own[2] = functional.z[1] * functional.z[1];
        }
    }
    if (model.runs > 0) own[own.size() - 2] = functional.run * functional.run;
    own.back() = functional.residual * functional.residual;
    for (std::size_t a = 0; a < own.size(); ++a) {
        out.variance += own[a] * model.variances[a];
        gradient[a] += own[a];
    }
    double of_variance = 0;
    for (std::size_t a = 0; a < gradient.size(); ++a)
        for (std::size_t b = 0; b < gradient.size(); ++b)
            of_variance += gradient[a] * model.variances_covariance(a, b) * gradient[b];
    const double most = functional.z.empty() ? static_cast<double>(model.rows) - static_cast<double>(p)
                                             : static_cast<double>(model.specimens - 1);
    const double dof = of_variance > 0 ? 2 * out.variance * out.variance / of_variance : most;
    out.dof = std::isfinite(dof) ? std::min(std::max(dof, 1.0), std::max(most, 1.0)) : 1;
    return out;
}

}  // namespace tipwright::calib::trial
