#include "calib/decision/side_balance.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace tipwright;
using namespace tipwright::calib;

namespace {

// A step of 6 mL a tip whose compartment A holds so much more than the mean, known to u.
StepResult step_of(double half_mL, double u_mL) {
    StepResult step;
    step.volume_per_tip_mL = {6, 0.01, infinite_dof};
    CompartmentBalance sides;
    sides.a_excess_percent = 100 * half_mL / 6;
    sides.u_percent = 100 * u_mL / 6;
    sides.dof = 18;
    step.observation.compartments = sides;
    return step;
}

}  // namespace

TEST_CASE("the compartments' difference of several steps is their weighted mean") {
    // By hand: weights 1e4 and 2.5e3.
    const auto both = half_difference({step_of(0.10, 0.01), step_of(0.12, 0.02)});
    REQUIRE(both);
    CHECK(both->half_mL.value == Approx((0.10 * 1e4 + 0.12 * 2.5e3) / 1.25e4));
    CHECK(both->half_mL.u == Approx(1 / std::sqrt(1.25e4)));
    CHECK_FALSE(both->widened);
    CHECK_FALSE(half_difference({}));
    CHECK_FALSE(half_difference({StepResult{}}));
}

TEST_CASE(
    "steps whose compartments differ by more than they are known widen u, from the 95 % point of chi squared "
    "on") {
    // Three steps, two degrees of freedom: 5.991 (any table of chi squared). Values at -d, 0, d about their
    // mean give 2 d^2 / u^2.
    const auto spread = [](double chi2) {
        const double d = 0.01 * std::sqrt(chi2 / 2);
        return *half_difference({step_of(0.1 - d, 0.01), step_of(0.1, 0.01), step_of(0.1 + d, 0.01)});
    };
    CHECK_FALSE(spread(5.98).widened);
    CHECK(spread(5.98).half_mL.u == Approx(0.01 / std::sqrt(3.0)));
    CHECK(spread(6.00).widened);
    CHECK(spread(6.00).half_mL.u == Approx(0.01 / std::sqrt(3.0) * std::sqrt(6.00 / 2)));
    // Two steps, one degree of freedom: 3.841.
    const auto pair = [](double chi2) {
        const double d = 0.01 * std::sqrt(chi2 / 2);
        return half_difference({step_of(0.1 - d, 0.01), step_of(0.1 + d, 0.01)})->widened;
    };
    CHECK_FALSE(pair(3.83));
    CHECK(pair(3.85));
}
