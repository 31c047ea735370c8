#include "calib/decision/drift.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace tipwright;
using namespace tipwright::calib;

// Backwards from -0.8 % a year: as left at the beginning of each stretch, as found at its end.
TEST_CASE("drift per year over several services") {
    const std::vector<ServiceStretch> stretches = {{2019.0, {0.1, 0.2}, 2020.5, {0.1 - 1.2, 0.2}},
                                                   {2020.5, {0.3, 0.2}, 2022.5, {0.3 - 1.6, 0.2}},
                                                   {2022.5, {0, 0.2}, 2025.5, {-2.4, 0.2}}};
    const auto drift = drift_per_year(stretches);
    REQUIRE(drift);
    CHECK(drift->percent_per_year.value == Approx(-0.8).epsilon(1e-9));
    CHECK(drift->percent_per_year.u == Approx(std::sqrt(0.08 / (1.5 * 1.5 + 4 + 9))).epsilon(1e-9));
    CHECK(drift->significant);
    CHECK(drift->consistent);
    CHECK(drift->stretches == 3);
    const auto one = drift_per_year({{2020, {0, 0.3}, 2021, {0.2, 0.3}}});
    REQUIRE(one);
    CHECK(one->percent_per_year.value == Approx(0.2));
    CHECK(one->percent_per_year.u == Approx(0.3 * std::sqrt(2.0)));
    CHECK_FALSE(one->significant);
    const auto jumpy = drift_per_year({{2020, {0, 0.1}, 2021, {2, 0.1}}, {2021, {0, 0.1}, 2022, {-2, 0.1}}});
    REQUIRE(jumpy);
    CHECK_FALSE(jumpy->consistent);
    CHECK(jumpy->widened);
    CHECK_FALSE(jumpy->significant);
}

// JCGM 100:2008 G.4.1 by hand: of one stretch 0.5^4/(0.3^4/4 + 0.4^4/9) = 12.8; of two alike the drift is
// half the sum of four causes, u 0.25 each of 5: 4^2 5/4 = 20.
TEST_CASE("a drift knows no more degrees of freedom than what makes it") {
    const auto one = drift_per_year({{2020, {0, 0.3, 4}, 2021, {1, 0.4, 9}}});
    REQUIRE(one);
    const double dof = std::pow(0.5, 4) / (std::pow(0.3, 4) / 4 + std::pow(0.4, 4) / 9);
    CHECK(one->percent_per_year.dof == Approx(dof).epsilon(1e-9));
    CHECK(one->U_percent_per_year == Approx(2.164 * 0.5).epsilon(1e-3));  // between t for 12 and 13, tables
    const auto two =
        drift_per_year({{2020, {0, 0.5, 5}, 2021, {1, 0.5, 5}}, {2021, {0, 0.5, 5}, 2022, {1, 0.5, 5}}});
    REQUIRE(two);
    CHECK(two->percent_per_year.dof == Approx(20).epsilon(1e-9));
}

TEST_CASE("a drift over no stretch, or over one that ends before it began, is refused") {
    CHECK(drift_per_year({}).fault().code == FaultCode::too_few_points);
    CHECK(
        drift_per_year({{2020, {0, 0.1}, 2021, {0, 0.1}}, {2022, {0, 0.1}, 2021, {0, 0.1}}}).fault().where ==
        "stretch 2");
    CHECK(drift_per_year({{2020, {0, 0}, 2021, {0, 0}}}).fault().where == "stretch 1");
    CHECK(drift_per_year({{2020, {std::nan(""), 0.1}, 2021, {0, 0.1}}}).fault().where == "stretch 1");
}
