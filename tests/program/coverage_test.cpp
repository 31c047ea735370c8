// A small piece of tests/figures/coverage_figures.cpp: fixed seeds, so it gives the same counts every time;
// the bounds are what 95 % intervals of 250 steps keep to in all but one of 10 000 studies (binomial, a step
// counted as independent of its neighbours).
#include <catch2/catch.hpp>

#include "tests/support/coverage.hpp"

using namespace tipwright;

TEST_CASE("stated intervals hold the truth about as often as they say") {
    const auto study = test::study_coverage("bucket-150", "five-point-as-found", 50, 2);
    CHECK(study.failed == 0);
    const auto& e = study.counts.at("e");
    REQUIRE(e.intervals == 250);
    CHECK(e.inside >= 222);
    CHECK(e.inside < 250);
    CHECK(std::abs(e.mean_z()) < 0.5);
    CHECK(study.counts.at("h").percent() > 88);
    CHECK(study.counts.at("tau").percent() > 80);
    CHECK(study.counts.at("V0").percent() > 80);
    CHECK(study.passes > 0);
    CHECK(study.false_passes <= study.passes / 20);
    // The counter counts: intervals half as wide would hold the truth in 67 % of the cases.
    CHECK(e.sd_z() > 0.8);
    CHECK(e.sd_z() < 1.25);
}

TEST_CASE("a siphon's intervals hold the truth") {
    const auto study = test::study_coverage("siphon-200", "three-point-check", 20, 2);
    CHECK(study.failed == 0);
    CHECK(study.counts.at("e").percent() > 88);
    CHECK(study.counts.at("h").percent() > 75);  // rows of 20 runs hang together
}
