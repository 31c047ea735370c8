#include "calib/weighing/air.hpp"

#include <catch2/catch.hpp>

#include "tests/calib/published_table.hpp"

using namespace tipwright::calib;
using tipwright::test::PublishedTable;

TEST_CASE("air density is that of CIPM-2007 and near the simplified formula of OIML R 111-1") {
    constexpr double computed_digits = 5.1e-8;  // the column has seven decimals
    constexpr double oiml_relative = 2e-4;      // stated for the simplified formula
    const PublishedTable table("air_density.csv");
    REQUIRE(table.rows() == 18);
    for (std::size_t row = 0; row < table.rows(); ++row) {
        const double rho = air_density_kg_m3(table.number(row, "t_degC"), 10 * table.number(row, "p_kPa"),
                                             table.number(row, "rh_percent"));
        CAPTURE(row);
        CHECK(rho == Approx(table.number(row, "cipm2007_kg_m3")).margin(computed_digits));
        CHECK(rho == Approx(table.number(row, "oiml_r111_kg_m3")).epsilon(oiml_relative));
    }
}

// A value printed for 10 degC, 730 mmHg, 40 % relative humidity: 1.19569 kg/m3 (CIPM formula).
TEST_CASE("air density at 10 degC and 730 mmHg") {
    constexpr double hPa_per_mmHg = 1013.25 / 760;
    CHECK(air_density_kg_m3(10, 730 * hPa_per_mmHg, 40) == Approx(1.19569).margin(6e-6));
}

TEST_CASE("damp air is lighter and denser air comes with pressure") {
    CHECK(air_density_kg_m3(20, 1013.25, 90) < air_density_kg_m3(20, 1013.25, 10));
    CHECK(air_density_kg_m3(20, 1030, 50) > air_density_kg_m3(20, 990, 50));
}
