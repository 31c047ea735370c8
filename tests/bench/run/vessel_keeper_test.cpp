// Who looks after the vessel: what is known to be gone is gone, and nothing else; and the person hears what
// to do.
#include "bench/run/vessel_keeper.hpp"

#include <catch2/catch.hpp>
#include <functional>
#include <optional>
#include <string>

#include "tests/bench/guarded_bench.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

namespace {

struct Emptied {
    Outcome outcome = Done{};
    std::string told;
    double shows_g = 0;
    double water_g = 0;
};

// What is known of the vessel after it was to be emptied. shows_g: before that; capacity 100 g.
Emptied emptied(std::optional<double> empty_g, bool has_drain, double shows_g,
                const std::function<void(Guarded&)>& meanwhile) {
    Guarded bench;
    bench.bench.has_drain_valve = has_drain;
    bench.bench.vessel_empty_g = empty_g;
    bench.bench.instruments.clear();  // none is virtual: a person can reach it
    Emptied out;
    VesselKeeper keeper(
        *bench.guard, bench.pump, *bench.clock, bench.bench, nullptr,
        [&]() -> Task<void> { co_await bench.clock->sleep_for(0.1); },
        [&](const std::string& text) { out.told += text + "\n"; });
    bench.mass_g = shows_g;
    meanwhile(bench);
    bench.run([&]() -> Task<void> {
        co_await bench.clock->sleep_for(1);
        keeper.found(shows_g, 0);
        out.outcome = co_await keeper.empty(20);
    });
    out.shows_g = bench.mass_g;
    out.water_g = keeper.water_g(bench.mass_g);
    return out;
}

void shows_at(Guarded& bench, double time_s, double mass_g) {
    asio::co_spawn(
        bench.context,
        [](Guarded& of, double at_s, double shown_g) -> Task<void> {
            co_await of.clock->sleep_until(at_s);
            of.mass_g = shown_g;
        }(bench, time_s, mass_g),
        asio::detached);
}

}  // namespace

TEST_CASE(
    "an unknown vessel is empty once its drain let something out, else what stands there goes on counting as "
    "water") {
    const auto ran = emptied({}, true, 60, [](Guarded& bench) {
        bench.pump.drained = [&bench](bool open) { bench.mass_g = open ? 3 : bench.mass_g; };
    });
    CHECK(ran.outcome.ok());
    CHECK(ran.water_g == Approx(0));
    const auto shut = emptied({}, true, 60, [](Guarded&) {});
    CHECK(shut.outcome.ok());
    CHECK(shut.shows_g == 60);
    CHECK(shut.water_g == Approx(60));
    CHECK(shut.told.empty());
}

TEST_CASE("a person is told that the vessel is not there, or how much water is in it") {
    const auto away = emptied(500, false, 100, [](Guarded& bench) { shows_at(bench, 20, 502); });
    CHECK(away.outcome.ok());
    CHECK(away.told.find("The balance shows 100 g, less than the empty vessel.") != std::string::npos);
    CHECK(away.told.find("are water") == std::string::npos);
    const auto full = emptied(500, false, 590, [](Guarded& bench) { shows_at(bench, 20, 502); });
    CHECK(full.outcome.ok());
    CHECK(full.told.find("The balance shows 590 g, of which 90 g are water.") != std::string::npos);
    CHECK(full.told.find("less than the empty vessel") == std::string::npos);
}
