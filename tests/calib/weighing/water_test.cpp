#include "calib/weighing/water.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/calib/published_table.hpp"

using namespace tipwright::calib;
using tipwright::test::PublishedTable;

TEST_CASE("water density is that of Tanaka et al. 2001 and near other equations of state") {
    constexpr double computed_digits = 5.1e-7;  // the column has six decimals
    constexpr double printed_digits = 5.1e-5;   // the printed table has four
    constexpr double other_equations = 0.0012;  // IAPWS-95, TEOS-10 against Tanaka, largest near 40 degC
    const PublishedTable table("water_density.csv");
    REQUIRE(table.rows() == 41);
    int printed = 0;
    for (std::size_t row = 0; row < table.rows(); ++row) {
        const double t = table.number(row, "t_degC");
        CAPTURE(t);
        CHECK(water_density_kg_m3(t) == Approx(table.number(row, "tanaka_kg_m3")).margin(computed_digits));
        CHECK(water_density_kg_m3(t) == Approx(table.number(row, "iapws95_kg_m3")).margin(other_equations));
        CHECK(water_density_kg_m3(t) == Approx(table.number(row, "teos10_kg_m3")).margin(other_equations));
        if (table.has(row, "table_point_kg_m3")) {
            ++printed;
            CHECK(water_density_kg_m3(t) ==
                  Approx(table.number(row, "table_point_kg_m3")).margin(printed_digits));
        }
    }
    CHECK(printed >= 4);
}

TEST_CASE("the slope of water density is that of finite differences") {
    constexpr double h = 1e-3;
    // The difference quotient itself loses about 1e-16/1e-3 relative to one.
    constexpr double difference_noise = 1e-12;
    for (double t = 0; t <= 50; t += 2.5) {
        const double difference =
            (water_density_kg_m3(t + h) - water_density_kg_m3(t - h)) / (2 * h) / water_density_kg_m3(t);
        CAPTURE(t);
        CHECK(water_density_relative_slope(t) == Approx(difference).margin(difference_noise));
    }
    // Expansion of water at 20 degC, 2.07e-4 per kelvin; densest at 3.98 degC.
    CHECK(water_density_relative_slope(20) == Approx(-2.07e-4).epsilon(5e-3));
    CHECK(water_density_relative_slope(3.983035) == Approx(0).margin(1e-12));
}
