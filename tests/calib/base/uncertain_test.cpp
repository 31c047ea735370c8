#include "calib/base/uncertain.hpp"

#include <catch2/catch.hpp>

using namespace tipwright::calib;

// JCGM 100:2008 H.1.6: U99 = t_99(16) 32 nm = 2.92 x 32 nm = 93 nm.
TEST_CASE("expanded uncertainty of the end-gauge example") {
    const Expanded U = expanded({50000838, 32, 16}, 0.99);
    CHECK(U.k == Approx(2.92).margin(0.005));
    CHECK(U.U == Approx(93).margin(0.5));
    CHECK(U.coverage == 0.99);
}

TEST_CASE("without a limit to the degrees of freedom k is the normal quantile") {
    const Expanded U = expanded({1, 0.5});
    CHECK(U.k == Approx(1.95996398454).epsilon(1e-11));
    CHECK(U.U == Approx(0.5 * 1.95996398454).epsilon(1e-11));
    CHECK(U.coverage == 0.95);
}
