// Readings that stand alone are left out; real water, however fast, is not. Every edge of a contact is kept
// for what it tells of the contact, and the flow is measured from when it was set.
#include "bench/run/step_tracker.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "bench/run/measured_flow.hpp"

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

calib::Gauge gauge_of_one_contact() {
    calib::Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, calib::infinite_dof};
    gauge.contacts = {{}};
    return gauge;
}

constexpr double tip_g = 6.27;  // of 0.2 mm over 200 mm

void contact(StepTracker& tracker, double time_s, bool closed) {
    ContactEdge edge;
    edge.contact = 1;
    edge.closed = closed;
    edge.time_s = time_s;
    tracker.edge(edge);
}

// So many tips at that interval, each of them in the vessel a second later; five readings a second.
void tip(StepTracker& tracker, int tips, double interval_s, double bounce_s, double& now_s, double& mass_g) {
    for (int k = 0; k < tips; ++k) {
        const double tip_s = now_s + interval_s;
        for (double at_s = now_s + 0.2; at_s < tip_s + 0.1; at_s += 0.2)
            tracker.weight(at_s, mass_g + (at_s > now_s + 1 && now_s > 0 ? tip_g : 0));
        mass_g += now_s > 0 ? tip_g : 0;
        now_s = tip_s;
        contact(tracker, now_s, true);
        if (bounce_s > 0) {
            contact(tracker, now_s + bounce_s / 2, false);
            contact(tracker, now_s + bounce_s, true);
        }
        contact(tracker, now_s + 0.15, false);
    }
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

TEST_CASE("A contact that bounces for longer than half its debounce time is told of with the collect") {
    const calib::Gauge gauge = gauge_of_one_contact();
    for (const double bounce_s : {0.04, 0.06}) {
        StepTracker tracker(gauge, metrology());
        tracker.begin_step(1, 30);
        double now_s = 0, mass_g = 0;
        tip(tracker, 12, 20, bounce_s, now_s, mass_g);
        REQUIRE(tracker.tips().size() == 12);
        const auto observation = tracker.observe(1, 10);
        REQUIRE(observation);
        int bounces = 0;
        for (const calib::Finding& finding : tracker.what_the_tips_say(*observation, 1, 10))
            bounces += finding.kind() == calib::FindingKind::contact_bounce ? 1 : 0;
        CHECK(bounces == (bounce_s > gauge.debounce_s / 2 ? 1 : 0));
    }
}

TEST_CASE(
    "The flow is measured over tips since it was set: what fell before, at another flow, does not count") {
    const calib::Gauge gauge = gauge_of_one_contact();
    StepTracker tracker(gauge, metrology());
    tracker.begin_step(1, 30);
    double now_s = 0, mass_g = 0;
    tip(tracker, 8, 40, 0, now_s, mass_g);
    const double set_s = now_s - 1;
    tip(tracker, 12, 20, 0, now_s, mass_g);
    const auto flow = measured_flow_mL_min(tracker, gauge, metrology(), 0.95, set_s, now_s);
    REQUIRE(flow);
    CHECK(flow->value == Approx(tip_g / 20 * 60).epsilon(0.01));
    CHECK_FALSE(measured_flow_mL_min(tracker, gauge, metrology(), 0.95, now_s - 1, now_s));
}
