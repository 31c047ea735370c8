#include "calib/statistics/distributions.hpp"

#include <gsl/gsl_cdf.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <vector>

#include "tests/calib/published_table.hpp"

using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {
constexpr double infinite = std::numeric_limits<double>::infinity();
// Two libraries, both good to a few units of the last place; their tails differ most.
constexpr double library_tolerance = 1e-12;
// At t = -8, nu = 40 the reference library is itself off by 4e-11 of 4e-10 (checked with 40 digits).
constexpr double far_tail_tolerance = 1e-16;
// Inverses of the GNU Scientific Library stop iterating earlier than that.
constexpr double inverse_tolerance = 1e-10;
}  // namespace

TEST_CASE("coverage factors are those of JCGM 100:2008 table G.2") {
    const PublishedTable table("student_t.csv");
    const struct {
        const char* column;
        double coverage;
        double tolerance;
    } columns[] = {
        {"G2_p68.27", 0.6827, 0.005001}, {"G2_p90", 0.90, 0.005001}, {"G2_p95", 0.95, 0.005001},
        {"G2_p95.45", 0.9545, 0.005001}, {"G2_p99", 0.99, 0.005001}, {"G2_p99.73", 0.9973, 0.005001},
        {"t_p95", 0.95, 1e-9},           {"t_p95.45", 0.9545, 1e-9}, {"t_p99", 0.99, 1e-9}};
    for (std::size_t row = 0; row < table.rows(); ++row) {
        for (const auto& column : columns) {
            CAPTURE(table.text(row, "nu"), column.column);
            CHECK(student_two_sided(column.coverage, table.number(row, "nu")) ==
                  Approx(table.number(row, column.column)).margin(column.tolerance));
        }
    }
}

TEST_CASE("probabilities agree with the GNU Scientific Library") {
    for (const double z : {-8.0, -3.0, -1.96, -0.1, 0.0, 0.5, 2.5, 6.0}) {
        CHECK(normal_cumulative(z) == Approx(gsl_cdf_ugaussian_P(z)).epsilon(library_tolerance));
        for (const double dof : {1.0, 2.5, 9.0, 40.0, 1000.0}) {
            CAPTURE(z, dof);
            CHECK(student_cumulative(z, dof) ==
                  Approx(gsl_cdf_tdist_P(z, dof)).epsilon(library_tolerance).margin(far_tail_tolerance));
        }
    }
    for (const double x : {0.1, 1.0, 4.0, 9.49, 30.0}) {
        for (const double dof : {1.0, 4.0, 8.0, 30.0}) {
            CAPTURE(x, dof);
            CHECK(chi_squared_cumulative(x, dof) ==
                  Approx(gsl_cdf_chisq_P(x, dof)).epsilon(library_tolerance));
        }
    }
}

TEST_CASE("quantiles agree with the GNU Scientific Library and undo the probabilities") {
    for (const double p : {1e-9, 0.001, 0.025, 0.3, 0.7, 0.95, 0.999}) {
        CAPTURE(p);
        CHECK(normal_quantile(p) == Approx(gsl_cdf_ugaussian_Pinv(p)).epsilon(library_tolerance));
        CHECK(normal_cumulative(normal_quantile(p)) == Approx(p).epsilon(library_tolerance));
        for (const double dof : {1.0, 4.5, 25.0}) {
            CAPTURE(dof);
            if (p > 1e-6) {
                CHECK(student_quantile(p, dof) ==
                      Approx(gsl_cdf_tdist_Pinv(p, dof)).epsilon(inverse_tolerance));
            }
            CHECK(student_cumulative(student_quantile(p, dof), dof) == Approx(p).epsilon(library_tolerance));
            CHECK(chi_squared_quantile(p, dof) ==
                  Approx(gsl_cdf_chisq_Pinv(p, dof)).epsilon(inverse_tolerance));
        }
    }
}

// One degree of freedom is the Cauchy distribution: the quantile is -cot(pi p).
TEST_CASE("the far tail with one degree of freedom is exact") {
    for (const double p : {1e-9, 1e-6, 0.01, 0.4}) {
        const double angle = 3.14159265358979323846 * p;
        CHECK(student_quantile(p, 1) ==
              Approx(-std::cos(angle) / std::sin(angle)).epsilon(library_tolerance));
    }
}

TEST_CASE("infinite degrees of freedom are the normal distribution") {
    CHECK(student_cumulative(1.3, infinite) == normal_cumulative(1.3));
    CHECK(student_quantile(0.9, infinite) == normal_quantile(0.9));
    CHECK(student_two_sided(0.95, infinite) == Approx(1.959963984540054).epsilon(1e-14));
}

TEST_CASE("what is remembered is the same however often and in whatever order it is asked for") {
    const auto asked = GENERATE(student_two_sided, chi_squared_quantile);
    constexpr int more_than_are_remembered = 1500;
    const auto dof_of = [](int k) { return 1 + 0.37 * k; };
    std::vector<double> upwards;
    for (int k = 0; k < more_than_are_remembered; ++k) {
        upwards.push_back(asked(0.95, dof_of(k)));
        REQUIRE(asked(0.95, dof_of(k)) == upwards.back());
    }
    for (int k = more_than_are_remembered - 1; k >= 0; --k)
        REQUIRE(asked(0.95, dof_of(k)) == upwards[static_cast<std::size_t>(k)]);
    CHECK(asked(0.95, 5) != asked(0.9, 5));
    CHECK(asked(0.95, 5) != asked(0.95, 6));
}
