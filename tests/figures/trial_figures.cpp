// The trial's mathematics: REML of five kinds, twenty specimens, ten rates, beside the same likelihood from
// dense matrices; what the intervals cover, on data from the standard library's generator.
#include <Eigen/Dense>
#include <chrono>
#include <cmath>
#include <random>

#include "calib/statistics/distributions.hpp"
#include "calib/trial/kind_model.hpp"
#include "tests/support/figure.hpp"

using namespace tipwright;
using namespace tipwright::calib::trial;

namespace {

struct Truth {
    double level_sd = 0.008;
    double tilt_sd = 0.006;
    double noise = 0.002;
};

const std::vector<double> rates{6, 9.1, 13.8, 20.9, 31.7, 48.1, 72.9, 110.5, 167.6, 254};

KindData made(std::mt19937_64& random, int specimens, const Truth& truth, const std::vector<double>& at) {
    std::normal_distribution<double> normal;
    KindData out{"kind", specimens, {}};
    for (int s = 0; s < specimens; ++s) {
        const double level = truth.level_sd * normal(random);
        const double tilt = truth.tilt_sd * normal(random);
        TrialRun run{s, {}};
        for (double I : at) {
            const double y = 1 + level + (0.08 + tilt) * I / at.back() + truth.noise * normal(random);
            run.points.push_back({I, 100 * (1 / y - 1), 0.0});
        }
        out.runs.push_back(run);
    }
    return out;
}

// The restricted criterion once more, from whole matrices: what the fit's minimum must be.
double dense_criterion(const MixedData& data, const MixedModel& model) {
    using namespace Eigen;
    const auto n = static_cast<Index>(data.y.size());
    const auto p = static_cast<Index>(data.fixed.columns);
    const auto q = static_cast<Index>(data.random.columns);
    MatrixXd X(n, p), Z(n, q);
    VectorXd y(n);
    for (Index i = 0; i < n; ++i) {
        const auto row = static_cast<std::size_t>(i);
        y(i) = data.y[row];
        for (Index c = 0; c < p; ++c)
            X(i, c) = data.fixed.values[row * data.fixed.columns + static_cast<std::size_t>(c)];
        for (Index c = 0; c < q; ++c)
            Z(i, c) = data.random.values[row * data.random.columns + static_cast<std::size_t>(c)];
    }
    MatrixXd G(q, q);
    G(0, 0) = model.level_variance();
    if (q == 2) {
        G(0, 1) = G(1, 0) = model.level_tilt_covariance();
        G(1, 1) = model.tilt_variance();
    }
    MatrixXd V = MatrixXd::Zero(n, n);
    for (Index i = 0; i < n; ++i)
        for (Index j = 0; j < n; ++j) {
            if (data.specimen[static_cast<std::size_t>(i)] == data.specimen[static_cast<std::size_t>(j)])
                V(i, j) = Z.row(i) * G * Z.row(j).transpose();
            if (i == j) V(i, j) += model.residual_variance();
        }
    const LLT<MatrixXd> llt(V);
    const MatrixXd XVX = X.transpose() * llt.solve(X);
    const VectorXd b = XVX.llt().solve(X.transpose() * llt.solve(y));
    const VectorXd r = y - X * b;
    double log_det = 0;
    for (Index i = 0; i < n; ++i) log_det += 2 * std::log(MatrixXd(llt.matrixL())(i, i));
    return log_det + std::log(XVX.determinant()) + r.dot(llt.solve(r)) +
           static_cast<double>(n - p) * std::log(2 * M_PI);
}

double seconds_since(std::chrono::steady_clock::time_point begun) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
}

bool speed() {
    std::mt19937_64 random(1);
    std::vector<KindModel> kinds;
    std::vector<KindData> data;
    for (int k = 0; k < 5; ++k) data.push_back(made(random, 20, {}, rates));
    double best = 1e9;
    for (int round = 0; round < 5; ++round) {
        kinds.clear();
        const auto begun = std::chrono::steady_clock::now();
        for (const KindData& one : data)
            if (auto kind = model_kind(one)) kinds.push_back(std::move(*kind));
        best = std::min(best, seconds_since(begun));
    }
    if (kinds.size() != 5) return false;
    // One evaluation of the dense criterion for each kind takes so long; a fit takes hundreds.
    double difference = 0;
    const auto begun = std::chrono::steady_clock::now();
    for (const KindModel& kind : kinds)
        difference =
            std::max(difference, std::abs(dense_criterion(kind.data, kind.model) - kind.model.criterion));
    const double dense = seconds_since(begun);
    bool ok = test::figure("trial.reml_5x20x10", best, "s", "<=", 0.1);
    ok &= test::figure("trial.dense_criterion_5x20x10_once", dense, "s", ">=", 0);
    ok &= test::figure("trial.criterion_against_dense", difference, "1", "<=", 1e-6);
    return ok;
}

// How often the truth lies inside: the mean gauge's error at 60 mm/h, the spread of levels, and a new gauge.
bool coverage(int specimens, int trials) {
    std::mt19937_64 random(static_cast<unsigned>(100 + specimens));
    std::normal_distribution<double> normal;
    const Truth truth;
    const std::vector<double> at{6, 25, 60, 120, 250};
    int mean = 0, level = 0, gauge = 0, done = 0;
    for (int t = 0; t < trials; ++t) {
        const auto kind = model_kind(made(random, specimens, truth, at));
        if (!kind) continue;
        const auto spread = profile_intervals(kind->data, kind->model);
        if (!spread) continue;
        ++done;
        const CurveValue curve = curve_at(*kind, 60);
        const double y = 1 + 0.08 * 60 / 250;
        mean += std::abs(100 * (1 / y - 1) - curve.mean.value) <= curve.U_mean;
        level += spread->level.low <= truth.level_sd && truth.level_sd <= spread->level.high;
        const double one = y + truth.level_sd * normal(random) + truth.tilt_sd * normal(random) * 60 / 250;
        const double error = 100 * (1 / one - 1);
        gauge += curve.low <= error && error <= curve.high;
    }
    const std::string of = "_of_" + std::to_string(specimens);
    const double n = done;
    bool ok = done == trials;
    ok &= test::figure("trial.coverage_mean" + of, 100 * mean / n, "%", ">=", 93);
    ok &= test::figure("trial.coverage_level_sd" + of, 100 * level / n, "%", ">=", 92);
    ok &= test::figure("trial.coverage_new_gauge" + of, 100 * gauge / n, "%", ">=", 93);
    return ok;
}

}  // namespace

int main() {
    bool ok = speed();
    for (int specimens : {3, 5, 10}) ok &= coverage(specimens, 1000);
    return ok ? 0 : 1;
}
