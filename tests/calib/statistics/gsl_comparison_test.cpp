// The same problems solved by the GNU Scientific Library, which shares no code with calib/.
#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit.h>
#include <gsl/gsl_multifit_nlinear.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/statistics/linear_fit.hpp"
#include "calib/statistics/regression.hpp"

using namespace tipwright::calib;

namespace {

constexpr double agreement = 1e-9;

// Generalised least squares over the true x and the parameters of y = f(x; b), whitened with the Cholesky
// factor of the joint covariance of x and y: the definition, with nothing eliminated.
struct Form {
    double (*value)(double x, const double* b);
    double (*slope)(double x, const double* b);
    void (*gradient)(double x, const double* b, double* out);
};

struct Whole {
    const CalibrationPoints* points;
    std::size_t parameters;
    Form form;
    gsl_matrix* factor;
};

int whole_residuals(const gsl_vector* unknowns, void* data, gsl_vector* out) {
    const auto& whole = *static_cast<const Whole*>(data);
    const std::size_t n = whole.points->x.size();
    const double* b = unknowns->data + n;
    for (std::size_t i = 0; i < n; ++i) {
        const double xi = gsl_vector_get(unknowns, i);
        gsl_vector_set(out, i, whole.points->x[i] - xi);
        gsl_vector_set(out, n + i, whole.points->y[i] - whole.form.value(xi, b));
    }
    return gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, whole.factor, out);
}

int whole_jacobian(const gsl_vector* unknowns, void* data, gsl_matrix* out) {
    const auto& whole = *static_cast<const Whole*>(data);
    const std::size_t n = whole.points->x.size();
    const double* b = unknowns->data + n;
    gsl_matrix_set_zero(out);
    std::vector<double> gradient(whole.parameters);
    for (std::size_t i = 0; i < n; ++i) {
        const double xi = gsl_vector_get(unknowns, i);
        gsl_matrix_set(out, i, i, -1);
        gsl_matrix_set(out, n + i, i, -whole.form.slope(xi, b));
        whole.form.gradient(xi, b, gradient.data());
        for (std::size_t k = 0; k < whole.parameters; ++k) gsl_matrix_set(out, n + i, n + k, -gradient[k]);
    }
    return gsl_blas_dtrsm(CblasLeft, CblasLower, CblasNoTrans, CblasNonUnit, 1, whole.factor, out);
}

struct Solution {
    std::vector<double> parameters;
    std::vector<double> sd;
    double chi2 = 0;
};

Solution solve_whole(const CalibrationPoints& points, std::vector<double> start, const Form& form) {
    const std::size_t n = points.x.size();
    const std::size_t p = start.size();
    gsl_matrix* joint = gsl_matrix_calloc(2 * n, 2 * n);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            gsl_matrix_set(joint, i, j, points.cov_x(i, j));
            gsl_matrix_set(joint, n + i, n + j, points.cov_y(i, j));
            if (points.cov_xy.n != 0) {
                gsl_matrix_set(joint, i, n + j, points.cov_xy(i, j));
                gsl_matrix_set(joint, n + j, i, points.cov_xy(i, j));
            }
        }
    }
    gsl_linalg_cholesky_decomp1(joint);
    Whole whole{&points, p, form, joint};
    gsl_multifit_nlinear_fdf problem{};
    problem.f = whole_residuals;
    problem.df = whole_jacobian;
    problem.n = 2 * n;
    problem.p = n + p;
    problem.params = &whole;
    const gsl_multifit_nlinear_parameters options = gsl_multifit_nlinear_default_parameters();
    gsl_multifit_nlinear_workspace* space =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &options, problem.n, problem.p);
    gsl_vector* unknowns = gsl_vector_alloc(n + p);
    for (std::size_t i = 0; i < n; ++i) gsl_vector_set(unknowns, i, points.x[i]);
    for (std::size_t k = 0; k < p; ++k) gsl_vector_set(unknowns, n + k, start[k]);
    gsl_multifit_nlinear_init(unknowns, &problem, space);
    int info = 0;
    gsl_multifit_nlinear_driver(1000, 1e-15, 1e-15, 0, nullptr, nullptr, &info, space);
    gsl_vector_memcpy(unknowns, gsl_multifit_nlinear_position(space));
    // It takes only steps that lower chi-squared, which is flat to rounding at its minimum: the last steps
    // are plain Gauss-Newton, by its linear least squares.
    gsl_matrix* J = gsl_matrix_alloc(2 * n, n + p);
    gsl_vector* residual = gsl_vector_alloc(2 * n);
    gsl_vector* step = gsl_vector_alloc(n + p);
    gsl_matrix* covariance = gsl_matrix_alloc(n + p, n + p);
    gsl_multifit_linear_workspace* linear = gsl_multifit_linear_alloc(2 * n, n + p);
    Solution solution;
    for (int i = 0; i < 30; ++i) {
        whole_residuals(unknowns, &whole, residual);
        whole_jacobian(unknowns, &whole, J);
        gsl_multifit_linear(J, residual, step, covariance, &solution.chi2, linear);
        gsl_vector_sub(unknowns, step);
    }
    gsl_multifit_linear_free(linear);
    gsl_vector_free(step);
    gsl_vector_free(residual);
    gsl_multifit_nlinear_covar(J, 0, covariance);
    gsl_matrix_free(J);
    for (std::size_t k = 0; k < p; ++k) {
        solution.parameters.push_back(gsl_vector_get(unknowns, n + k));
        solution.sd.push_back(std::sqrt(gsl_matrix_get(covariance, n + k, n + k)));
    }
    gsl_matrix_free(covariance);
    gsl_vector_free(unknowns);
    gsl_multifit_nlinear_free(space);
    gsl_matrix_free(joint);
    return solution;
}

// Points of a gauge: flow in mL/s against volume per tip in mL, with common and own parts in both.
CalibrationPoints gauge_points(std::uint64_t seed, std::size_t n, bool with_xy) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    CalibrationPoints points;
    points.cov_x = SquareMatrix(n);
    points.cov_y = SquareMatrix(n);
    if (with_xy) points.cov_xy = SquareMatrix(n);
    std::vector<double> u_x;
    std::vector<double> u_y;
    for (std::size_t i = 0; i < n; ++i) {
        const double flow = 0.1 + 0.25 * static_cast<double>(i);
        u_x.push_back(0.004 * flow + 0.002);
        u_y.push_back(0.01 + 0.002 * static_cast<double>(i % 3));
        points.x.push_back(flow + u_x.back() * normal(random));
        points.y.push_back(6.2 + 0.4 * flow - 0.01 * flow * flow + u_y.back() * normal(random));
    }
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            points.cov_x(i, j) = u_x[i] * u_x[j] * (i == j ? 1 : 0.4);
            points.cov_y(i, j) = u_y[i] * u_y[j] * (i == j ? 1 : 0.3);
            if (with_xy) points.cov_xy(i, j) = u_x[i] * u_y[j] * (i == j ? 0.5 : 0.2);
        }
    }
    return points;
}

const Form straight_line = {[](double x, const double* b) { return b[0] + b[1] * x; },
                            [](double, const double* b) { return b[1]; },
                            [](double x, const double*, double* out) {
                                out[0] = 1;
                                out[1] = x;
                            }};
const Form parabola = {[](double x, const double* b) { return b[0] + x * (b[1] + x * b[2]); },
                       [](double x, const double* b) { return b[1] + 2 * b[2] * x; },
                       [](double x, const double*, double* out) {
                           out[0] = 1;
                           out[1] = x;
                           out[2] = x * x;
                       }};

}  // namespace

TEST_CASE("generalised Gauss-Markov fits agree with the GNU Scientific Library") {
    for (const bool with_xy : {false, true}) {
        for (std::uint64_t seed = 1; seed <= 6; ++seed) {
            // The last with more points than are worked on side by side, several times over.
            const CalibrationPoints points = gauge_points(seed, seed < 6 ? 10 : 27, with_xy);
            CAPTURE(with_xy, seed);
            for (const int degree : {1, 2}) {
                const auto fit = fit_polynomial(points, degree);
                REQUIRE(fit);
                std::vector<double> start = {6, 0.5};
                if (degree == 2) start.push_back(0);
                // From our answer moved by a hundredth, so that its last digits are the library's own.
                for (std::size_t k = 0; k < start.size(); ++k) start[k] = 1.01 * fit->coefficients[k];
                const Solution reference = solve_whole(points, start, degree == 1 ? straight_line : parabola);
                CHECK(fit->chi2 == Approx(reference.chi2).epsilon(agreement));
                for (std::size_t k = 0; k < start.size(); ++k) {
                    CAPTURE(degree, k);
                    const double u = reference.sd[k];
                    CHECK(fit->coefficients[k] ==
                          Approx(reference.parameters[k]).epsilon(agreement).margin(agreement * u));
                    CHECK(std::sqrt(fit->covariance(k, k)) == Approx(u).epsilon(agreement));
                }
            }
        }
    }
}

TEST_CASE("weighted linear fits agree with the GNU Scientific Library") {
    std::mt19937_64 random(9);
    std::normal_distribution<double> normal;
    constexpr std::size_t n = 15;
    constexpr std::size_t p = 4;
    gsl_matrix* X = gsl_matrix_alloc(n, p);
    gsl_vector* y = gsl_vector_alloc(n);
    gsl_vector* w = gsl_vector_alloc(n);
    Design design{n, p, {}};
    std::vector<double> values;
    SquareMatrix covariance(n);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t k = 0; k < p; ++k) {
            design.values.push_back(k == 0 ? 1 : normal(random) * std::pow(10, k));
            gsl_matrix_set(X, i, k, design.values.back());
        }
        values.push_back(normal(random));
        gsl_vector_set(y, i, values.back());
        covariance(i, i) = 0.1 + std::fabs(normal(random));
        gsl_vector_set(w, i, 1 / covariance(i, i));
    }
    gsl_vector* c = gsl_vector_alloc(p);
    gsl_matrix* C = gsl_matrix_alloc(p, p);
    gsl_multifit_linear_workspace* space = gsl_multifit_linear_alloc(n, p);
    double chi2 = 0;
    gsl_multifit_wlinear(X, w, y, c, C, &chi2, space);
    const auto fit = fit_linear(design, values, covariance);
    REQUIRE(fit);
    CHECK(fit->chi2 == Approx(chi2).epsilon(agreement));
    for (std::size_t k = 0; k < p; ++k) {
        CHECK(fit->parameters[k] == Approx(gsl_vector_get(c, k)).epsilon(agreement));
        for (std::size_t l = 0; l < p; ++l) {
            CHECK(fit->covariance(k, l) == Approx(gsl_matrix_get(C, k, l)).epsilon(agreement).margin(1e-18));
        }
    }
    gsl_multifit_linear_free(space);
    gsl_matrix_free(C);
    gsl_vector_free(c);
    gsl_vector_free(w);
    gsl_vector_free(y);
    gsl_matrix_free(X);
}
