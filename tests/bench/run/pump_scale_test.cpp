#include "bench/run/pump_scale.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using tipwright::bench::PumpScale;

TEST_CASE("the first weighing is taken as it is, later ones by their weight") {
    PumpScale scale;
    CHECK(scale.value() == 1);
    CHECK_FALSE(scale.known());
    scale.learn(0.96, 0.02, 0);
    CHECK(scale.known());
    CHECK(scale.value() == Approx(0.96));
    CHECK(scale.relative_u(0) == Approx(0.02));
    // Two equally good values at once: their mean, and sqrt 2 less uncertainty.
    scale.learn(0.98, 0.02, 0);
    CHECK(scale.value() == Approx(0.97));
    CHECK(scale.relative_u(0) == Approx(0.02 / std::sqrt(2.0)));
    // A far better value nearly replaces what was known.
    scale.learn(0.95, 0.0005, 0);
    CHECK(scale.value() == Approx(0.95).margin(2e-4));
}

TEST_CASE("knowledge ages with time and with changes of rate") {
    PumpScale scale;
    scale.learn(1.0, 0.002, 0);
    CHECK(scale.relative_u(3600) > scale.relative_u(0));
    CHECK(scale.relative_u(3600) == Approx(0.0102).epsilon(0.01));
    const double before = scale.relative_u(0);
    scale.rate_changed();
    CHECK(scale.relative_u(0) > before);
}
