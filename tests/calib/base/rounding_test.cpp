#include "calib/base/rounding.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

using namespace tipwright::calib;

TEST_CASE("fixed decimals, half away from zero, never minus zero") {
    CHECK(fixed(2.675, 2) == "2.68");  // in binary a little below the half
    CHECK(fixed(-2.675, 2) == "-2.68");
    CHECK(fixed(0.5, 0) == "1");
    CHECK(fixed(1.5, 0) == "2");
    CHECK(fixed(-0.001, 2) == "0.00");
    CHECK(fixed(-0.005, 2) == "-0.01");
    CHECK(fixed(0.006, 2) == "0.01");
    CHECK(fixed(0.0006, 2) == "0.00");
    CHECK(fixed(0, 3) == "0.000");
    CHECK(fixed(-0.0, 0) == "0");
    CHECK(fixed(9.999, 2) == "10.00");
    CHECK(fixed(99.95, 1) == "100.0");
    CHECK(fixed(1234.5, -2) == "1200");
    CHECK(fixed(1250, -2) == "1300");
    CHECK(fixed(51, -2) == "100");
    CHECK(fixed(49, -2) == "0");
    CHECK(fixed(1e21, 1) == "1000000000000000000000.0");
    CHECK(fixed(1e-20, 3) == "0.000");
    CHECK(fixed(123456789.123456, 4) == "123456789.1235");
}

TEST_CASE("a column has one number of decimals: no U more than two figures, and each at least one") {
    const double alike[] = {0.015, 0.30, 0.042};
    CHECK(decimals_of_column(alike) == 2);
    CHECK(round_to_decimals(5.982, 0.015, 2).value == "5.98");
    CHECK(round_to_decimals(5.982, 0.015, 2).uncertainty == "0.02");
    CHECK(round_to_decimals(253.744, 0.304, 2).uncertainty == "0.30");
    // Down by more than 5 %: up.
    CHECK(round_to_decimals(1, 0.0124, 2).uncertainty == "0.02");
    CHECK(round_to_decimals(1, 0.0104, 2).uncertainty == "0.01");
    CHECK(round_to_decimals(1, 0.001, 1).uncertainty == "0.1");
    CHECK(round_to_decimals(1, 0.0996, 1).uncertainty == "0.1");
    // Two decades apart: the smallest keeps one figure.
    const double apart[] = {0.041, 12.3};
    CHECK(decimals_of_column(apart) == 2);
    CHECK(round_to_decimals(254.01234, 12.3, 2).uncertainty == "12.30");
    // What cannot be rounded by its U says nothing of the others.
    const double some[] = {0, 1.2, std::numeric_limits<double>::infinity()};
    CHECK(decimals_of_column(some) == 1);
    const double none[] = {0};
    CHECK(decimals_of_column(none) == decimals_without_uncertainty);
    const double tens[] = {1200, 340};
    CHECK(decimals_of_column(tens) == -2);
}

TEST_CASE("what is not a number is printed as such") {
    CHECK(fixed(std::numeric_limits<double>::quiet_NaN(), 2) == "nan");
    CHECK(fixed(std::numeric_limits<double>::infinity(), 2) == "inf");
    CHECK(fixed(-std::numeric_limits<double>::infinity(), 2) == "-inf");
}

TEST_CASE("uncertainty keeps two significant figures and the value follows it") {
    const auto check = [](double value, double U, const char* value_text, const char* U_text, int decimals) {
        const RoundedPair pair = round_with_uncertainty(value, U);
        CAPTURE(value, U);
        CHECK(pair.value == value_text);
        CHECK(pair.uncertainty == U_text);
        CHECK(pair.decimals == decimals);
        CHECK(decimals_earned(U) == decimals);
    };
    check(-3.14159, 0.0234, "-3.142", "0.023", 3);
    check(-3.14159, 0.0996, "-3.14", "0.10", 2);
    check(6.2831853, 0.0105, "6.283", "0.011", 3);
    check(1234.5, 99.6, "1230", "100", -1);
    check(1234.5, 12.4, "1235", "12", 0);
    check(98765, 1234, "98800", "1200", -2);
    check(0.00012345, 0.0000071, "0.0001235", "0.0000071", 7);
    // JCGM 100:2008 clause 7.2.6: 10.057 62 ohm with u = 27 milliohm is 10.058 ohm.
    check(10.05762, 0.027, "10.058", "0.027", 3);
}

// ILAC-P14:09/2020: rounding down may not take away more than 5 %. Of two figures it never does; of one it
// would, up to a third.
TEST_CASE("one figure is rounded up where rounding down would cut more than 5 %") {
    CHECK(round_with_uncertainty(1, 0.14, 1).uncertainty == "0.2");
    CHECK(round_with_uncertainty(1, 0.104, 1).uncertainty == "0.1");
    CHECK(round_with_uncertainty(1, 0.106, 1).uncertainty == "0.2");
    CHECK(round_with_uncertainty(1, 0.94, 1).uncertainty == "0.9");
    CHECK(round_with_uncertainty(1, 0.96, 1).uncertainty == "1");
    CHECK(round_with_uncertainty(12.7, 0.96, 1).value == "13");
}

TEST_CASE("no uncertainty is ever cut by more than 5 % nor raised by more than its last place") {
    std::mt19937_64 random(20090101);
    std::uniform_real_distribution<double> exponent(-9, 6);
    for (int i = 0; i < 20000; ++i) {
        const double U = std::pow(10, exponent(random));
        for (const int figures : {1, 2}) {
            const RoundedPair pair = round_with_uncertainty(0, U, figures);
            const double rounded = std::stod(pair.uncertainty);
            CAPTURE(U, figures);
            REQUIRE(rounded >= 0.95 * U * (1 - 1e-15));
            REQUIRE(rounded <= U + std::pow(10, -pair.decimals) * (1 + 1e-12));
        }
    }
}

TEST_CASE("without a usable uncertainty a value keeps six decimals") {
    CHECK(round_with_uncertainty(1.5, 0).value == "1.500000");
    CHECK(decimals_earned(std::numeric_limits<double>::quiet_NaN()) == decimals_without_uncertainty);
    CHECK(decimals_earned(-1) == decimals_without_uncertainty);
    CHECK(decimals_earned(std::numeric_limits<double>::infinity()) == decimals_without_uncertainty);
}
