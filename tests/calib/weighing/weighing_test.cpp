#include "calib/weighing/weighing.hpp"

#include <catch2/catch.hpp>

#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"
#include "tests/calib/published_table.hpp"

using namespace tipwright::calib;
using tipwright::test::PublishedTable;

TEST_CASE("balance reading to volume gives every Z factor of ISO 8655-6") {
    // Four decimals are printed, and the humidity behind the table is not: at 50 % the largest difference
    // is 5.6e-5, a little over half a digit.
    constexpr double table_tolerance = 6e-5;
    constexpr double humidity_percent = 50;
    const PublishedTable table("iso8655_z.csv");
    REQUIRE(table.rows() == 186);
    for (std::size_t row = 0; row < table.rows(); ++row) {
        const double t = table.number(row, "t_degC");
        const double rho_w = water_density_kg_m3(t);
        const double rho_a = air_density_kg_m3(t, 10 * table.number(row, "p_kPa"), humidity_percent);
        // The table takes the balance as adjusted in the air of the moment, here it is in 1.2 kg/m3.
        const double readjusted = (1 - rho_a / 8000) / (1 - 1.2 / 8000);
        CAPTURE(t, table.number(row, "p_kPa"));
        CHECK(1000 * buoyancy_factor(rho_a, rho_w) / rho_w * readjusted ==
              Approx(table.number(row, "Z_published_uL_per_mg")).margin(table_tolerance));
    }
}

TEST_CASE("in conventional air the factor is the plain buoyancy correction") {
    CHECK(buoyancy_factor(1.2, 998.2) == Approx((1 - 1.2 / 8000) / (1 - 1.2 / 998.2)).epsilon(1e-15));
    CHECK(buoyancy_factor(0, 998.2) == Approx(1 - 1.2 / 8000).epsilon(1e-15));
}
