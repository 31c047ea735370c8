#include "calib/laboratory/intercomparison.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calib/laboratory/capability.hpp"
#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

TEST_CASE("algorithm A: copper in flour, Analytical Methods Committee 1989", "[laboratory]") {
    const PublishedTable table("robust_chem.csv");
    std::vector<double> values;
    for (std::size_t i = 0; i < table.rows(); ++i) values.push_back(table.number(i, "copper_ppm"));
    const auto got = algorithm_a(values);
    REQUIRE(got);
    // Huber's proposal 2 has the same fixed point but for its constant, 1.13338 in place of 1.134: that moves
    // s* by less than 1e-3.
    CHECK(got->mean == Approx(3.2054980819923693).epsilon(5e-5));
    CHECK(got->sd == Approx(0.67365260010478967).epsilon(1e-3));
    CHECK(got->u() == Approx(1.25 * got->sd / std::sqrt(24.0)));
    // One wild value more moves it little; the plain mean goes to 41.
    values.push_back(1000);
    CHECK(algorithm_a(values)->mean == Approx(3.2526).margin(0.06));
}

TEST_CASE("algorithm A: more than half alike, too few, not finite", "[laboratory]") {
    CHECK(algorithm_a({5, 5, 5, 5, 9})->mean == Approx(5.0).margin(0.9));
    CHECK(algorithm_a({5, 5, 5})->sd == 0);
    CHECK(algorithm_a({1, 2}).fault().code == FaultCode::too_few_points);
    CHECK(algorithm_a({1, 2, std::nan("")}).fault().code == FaultCode::not_finite);
}

TEST_CASE("intercomparison: scores by hand, with a reference", "[laboratory]") {
    const std::vector<Participant> participants{{"A", 1.5, 0.6, 2}, {"B", 3.0, 0.8, 2}, {"C", 0.9, {}, 2}};
    const auto got = intercompare(participants, AssignedValue{1.0, 0.4, 2, false, 0}, 0.8);
    REQUIRE(got);
    CHECK_FALSE(got->z_includes_u);
    CHECK(*got->scores[0].en == Approx(0.5 / std::sqrt(0.36 + 0.16)));
    CHECK(*got->scores[0].agrees);
    CHECK(*got->scores[0].zeta == Approx(0.5 / std::sqrt(0.09 + 0.04)));
    CHECK(*got->scores[0].z == Approx(0.625));
    CHECK_FALSE(*got->scores[1].agrees);
    CHECK(*got->scores[1].by_z == Score::questionable);
    CHECK(*got->scores[1].by_zeta == Score::unsatisfactory);
    CHECK_FALSE(got->scores[2].en);
    CHECK_FALSE(got->scores[2].zeta);
    CHECK(*got->scores[2].by_z == Score::satisfactory);
    // A reference that is not known well enough counts in z.
    const auto loose = intercompare(participants, AssignedValue{1.0, 1.0, 2, false, 0}, 0.8);
    REQUIRE(loose);
    CHECK(loose->z_includes_u);
    CHECK(*loose->scores[1].z == Approx(2.0 / std::hypot(0.8, 0.5)));
}

TEST_CASE("intercomparison: a consensus is no reference", "[laboratory]") {
    const auto got = intercompare({{"A", 1.0, 0.2, 2},
                                   {"B", 1.1, 0.2, 2},
                                   {"C", 1.2, 0.2, 2},
                                   {"D", 4.0, 0.2, 2},
                                   {"E", 1.05, 0.2, 2},
                                   {"F", 1.15, 0.2, 2},
                                   {"G", 0.95, 0.2, 2}},
                                  {}, {});
    REQUIRE(got);
    CHECK(got->assigned.consensus);
    CHECK_FALSE(got->scores[0].en);
    CHECK(got->scores[0].zeta);
    CHECK(*got->sigma_pt == Approx(got->assigned.robust_sd));
    CHECK(*got->scores[3].by_z == Score::unsatisfactory);
    CHECK(intercompare({}, {}, {}).fault().code == FaultCode::too_few_points);
    CHECK(intercompare({{"A", 1, -0.1, 2}}, AssignedValue{1, 1, 2, false, 0}, {}).fault().code ==
          FaultCode::bad_value);
    CHECK(intercompare({{"A", std::nan(""), {}, 2}}, AssignedValue{1, 1, 2, false, 0}, {}).fault().code ==
          FaultCode::not_finite);
    CHECK(intercompare({{"A", 1, {}, 2}}, AssignedValue{1, 1, 2, false, 0}, 0.0).fault().code ==
          FaultCode::bad_value);
}

TEST_CASE("capability: shared and own parts, and what the check gauge shows beyond them", "[laboratory]") {
    StepResult step;
    step.error_percent = {-2, 0, infinite_dof};
    BudgetComponent area;
    area.u = 0.001;
    area.dlnA = 1;
    area.cause = "catch area: rim";
    BudgetComponent scatter;
    scatter.u = 0.1;
    scatter.dlnv = 0.01;
    step.budget = {area, scatter};
    CapabilityInput input{50, {&step, &step}, 0, 1};
    const auto budget_only = capability_at(input);
    REQUIRE(budget_only);
    CHECK(budget_only->u_shared_percent == Approx(0.098));
    CHECK(budget_only->u_own_percent == Approx(0.098));
    CHECK(budget_only->u_percent == Approx(0.098 * std::sqrt(2.0)));
    CHECK(budget_only->U_percent == Approx(0.28));  // 0.2716 up
    input.precision_sd = 0.05;
    CHECK(capability_at(input)->u_percent == Approx(budget_only->u_percent));
    input.precision_sd = 0.3;
    input.precision_dof = 12;
    const auto shown = capability_at(input);
    CHECK(shown->precision_counts);
    CHECK(shown->u_percent == Approx(std::hypot(0.098, 0.3)));
    CHECK(shown->k > 2.0);
    CHECK(capability_at({50, {}, 0, 1}).fault().code == FaultCode::too_few_points);
}

TEST_CASE("capability: U is rounded up to two figures, and stays what it is", "[laboratory]") {
    CHECK(rounded_up(0.2716) == Approx(0.28));
    CHECK(rounded_up(0.28) == Approx(0.28));
    CHECK(rounded_up(0.1201) == Approx(0.13));
    CHECK(rounded_up(9.91) == Approx(10));
    CHECK(rounded_up(123) == Approx(130));
}
