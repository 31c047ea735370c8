// Interlocks: what a reading may not pass, and what they let pass.
#include <catch2/catch.hpp>

#include "bench/run/interlocks.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

struct Watched {
    BenchDescription bench;
    calib::Gauge gauge;
    Watched() {
        bench.vessel_capacity_g = 500;
        bench.limits = {2, 300, 0.5, 2};
        gauge.nominal_tip_mm = 0.2;
        gauge.catch_diameter_mm = {200, 0.1, calib::infinite_dof};  // 6.28 mL a tip
    }
};

}  // namespace

TEST_CASE("a flow the pump can deliver trips nothing, slugs of a siphon and spikes neither") {
    Watched watched;
    Interlocks locks(watched.bench, watched.gauge);
    locks.begin(0);
    locks.end_emptying(100);
    double mass_g = 100;
    for (int k = 0; k < 500; ++k) {
        const double time_s = 0.2 * k;
        mass_g += 0.2 * 200.0 / 60;       // 200 g/min
        if (k % 100 == 50) mass_g += 20;  // a slug
        const double shown_g = k % 37 == 5 ? mass_g + 80 : k % 41 == 7 ? mass_g - 80 : mass_g;
        locks.weight(time_s, shown_g);
        INFO(time_s);
        REQUIRE_FALSE(locks.tripped(time_s));
    }
}

TEST_CASE("a load put on the pan trips with the second reading that shows it, one reading alone does not") {
    Watched watched;
    Interlocks locks(watched.bench, watched.gauge);
    locks.begin(0);
    locks.end_emptying(100);
    locks.weight(0, 100);
    locks.weight(0.2, 100);
    locks.weight(0.4, 400);
    CHECK_FALSE(locks.tripped(0.4));
    locks.weight(0.6, 400);
    REQUIRE(locks.tripped(0.6));
    CHECK(locks.tripped(0.6)->code == FaultCode::overload);
    CHECK(locks.tripped(0.6)->what ==
          "the balance rose by 300.0 g in 0.6 s, more than 300 g/min and what the gauge holds");
}

TEST_CASE("a leak is told in hundredths of a gram") {
    Watched watched;
    Interlocks locks(watched.bench, watched.gauge);
    locks.begin(0);
    locks.end_emptying(100);
    double time_s = 0;
    for (const double mass_g : {150.0, 148.875})
        for (int k = 0; k < 40 && !locks.tripped(time_s); ++k) locks.weight(time_s += 0.2, mass_g);
    REQUIRE(locks.tripped(time_s));
    CHECK(locks.tripped(time_s)->code == FaultCode::water_behind);
    CHECK(locks.tripped(time_s)->what == "the balance fell by 1.13 g though nobody emptied the vessel");
}

TEST_CASE("water faster than the pump, a fall, a full vessel and a long run trip") {
    Watched watched;
    Interlocks locks(watched.bench, watched.gauge);
    locks.begin(0);
    locks.end_emptying(0);
    double time_s = 0;
    const auto feed = [&](double mass_g, double g_per_s, double seconds) {
        for (const double end_s = time_s + seconds; time_s < end_s && !locks.tripped(time_s); time_s += 0.2)
            locks.weight(time_s, mass_g += 0.2 * g_per_s);
        return mass_g;
    };
    SECTION("rise") {
        feed(0, 12, 20);  // 720 g/min
        REQUIRE(locks.tripped(time_s));
        CHECK(locks.tripped(time_s)->code == FaultCode::overload);
        CHECK(time_s < 5);
    }
    SECTION("fall") {
        const double before_g = feed(0, 2, 20);
        CHECK_FALSE(locks.tripped(time_s));
        feed(before_g, -0.2, 20);
        REQUIRE(locks.tripped(time_s));
        CHECK(locks.tripped(time_s)->code == FaultCode::water_behind);
        CHECK(time_s < 20 + 0.5 / 0.2 + 2);
    }
    SECTION("full") {
        feed(0, 4.9, 200);
        REQUIRE(locks.tripped(time_s));
        CHECK(locks.tripped(time_s)->code == FaultCode::vessel_full);
        CHECK(time_s == Approx(500 / 4.9).margin(1));
    }
    SECTION("time") {
        CHECK_FALSE(locks.tripped(7199));
        REQUIRE(locks.tripped(7201));
        CHECK(locks.tripped(7201)->code == FaultCode::time_limit);
    }
    SECTION("time spent waiting for a person's hand is none of the run's") {
        locks.begin_waiting(3600);
        CHECK_FALSE(locks.tripped(3600 + 86400));
        locks.end_waiting(3600 + 86400);
        CHECK_FALSE(locks.tripped(7199 + 86400));
        REQUIRE(locks.tripped(7201 + 86400));
        CHECK(locks.tripped(7201 + 86400)->what.find("2.00 h, waiting for hands left out") !=
              std::string::npos);
    }
    SECTION("emptying") {
        const double before_g = feed(0, 2, 20);
        locks.begin_emptying();
        feed(before_g, -5, 8);
        CHECK_FALSE(locks.tripped(time_s));
        locks.end_emptying(0);
        feed(0, 2, 20);
        CHECK_FALSE(locks.tripped(time_s));
    }
}
