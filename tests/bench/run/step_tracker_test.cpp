// Readings that stand alone are left out; real water, however fast, is not.
#include "bench/run/step_tracker.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace tipwright;
using namespace tipwright::bench;

namespace {

calib::BenchMetrology metrology() {
    calib::BenchMetrology result;
    result.balance.resolution_g = 0.03;
    result.balance.repeatability_g = 0.04;  // together 0.05 g: alone is what lies 0.5 g off
    return result;
}

std::vector<double> kept(const std::vector<double>& masses_g) {
    calib::Gauge gauge;
    StepTracker tracker(gauge, metrology());
    tracker.begin_step(1, 50);
    double time_s = 0;
    for (const double mass_g : masses_g) tracker.weight(time_s += 0.2, mass_g);
    std::vector<double> result;
    for (const auto& reading : tracker.weights()) result.push_back(reading.mass_g);
    return result;
}

}  // namespace

TEST_CASE("A reading that stands alone by more than ten deviations is left out, above and below") {
    CHECK(kept({10, 10, 10.51, 10, 10}) == std::vector<double>{10, 10, 10, 10});
    CHECK(kept({10, 10, 9.49, 10, 10}) == std::vector<double>{10, 10, 10, 10});
    CHECK(kept({10, 10, 10.49, 10, 10}).size() == 5);
    CHECK(kept({10, 10, 9.51, 10, 10}).size() == 5);
}

TEST_CASE("A discharge is not taken for a garbled reading") {
    CHECK(kept({10, 10, 16, 16, 16}).size() == 5);
    CHECK(kept({10, 12, 14, 16, 18}).size() == 5);
    // The last may still turn out to be alone: it stays until the next comes.
    CHECK(kept({10, 10, 80}).size() == 3);
}
