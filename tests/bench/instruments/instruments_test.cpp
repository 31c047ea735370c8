// Instruments of any family: their roles, and the shipped profiles on the virtual bench's devices.
#include "bench/virtual_bench/virtual_bench.hpp"
#include "tests/bench/scripted_instrument.hpp"
#include "tests/support/test_permit.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("an instrument of another role is refused") {
    Bench bench;
    const auto made =
        make_pump(bench.profile("generic-tip-counter"), bench.near_link(), *bench.clock, bench.context);
    REQUIRE(!made.ok());
    CHECK(made.fault().code == FaultCode::inconsistent);
}

TEST_CASE("the shipped profiles work with the virtual bench's devices") {
    Bench bench;
    calib::Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, calib::infinite_dof};
    gauge.contacts = {{}, {}};
    VirtualBench devices(*bench.clock, bench.context, gauge, GaugeTruth{}, BenchTruth{},
                         calib::BenchMetrology{}, 1);
    devices.start();
    auto pump = make_pump(bench.profile("generic-pump-ascii"), devices.take_link("pump"), *bench.clock,
                          bench.context);
    auto balance = make_balance(bench.profile("generic-balance-print"), devices.take_link("balance"),
                                *bench.clock, bench.context);
    auto counter = make_tip_counter(bench.profile("generic-tip-counter"), devices.take_link("counter"),
                                    *bench.clock, bench.context);
    auto climate = make_climate_sensor(bench.profile("generic-climate-ascii"), devices.take_link("climate"),
                                       *bench.clock, bench.context);
    REQUIRE(pump.ok());
    REQUIRE(balance.ok());
    REQUIRE(counter.ok());
    REQUIRE(climate.ok());
    Seen seen;
    bench.start(
        [](Bench& b, Pump& p, Balance& scale, TipCounter& c, ClimateSensor& air, Seen& log) -> Task<void> {
            Outcome outcome = co_await p.set_flow(TestPermit::get(), 60);
            log.push_back(shown(outcome));
            Result<ClimateReading> reading = co_await air.read();
            REQUIRE(reading.ok());
            CHECK(reading->water_temperature_C == Approx(20.5).margin(1));
            int edges = 0;
            double last_s = 0;
            while (edges < 20) {
                Result<ContactEdge> edge = co_await c.next();
                REQUIRE(edge.ok());
                CHECK(edge->time_s >= last_s);
                CHECK(edge->time_s <= b.clock->now_s() + 1e-9);
                last_s = edge->time_s;
                ++edges;
            }
            Outcome tared = co_await scale.tare();
            log.push_back(shown(tared));
            for (int i = 0; i < 50; ++i) {
                Result<WeightReading> weight = co_await scale.next();
                REQUIRE(weight.ok());
                CHECK(weight->decimals == 2);
            }
            outcome = co_await p.stop();
            log.push_back(shown(outcome));
            b.clock->stop();
        }(bench, **pump, **balance, **counter, **climate, seen));
    bench.clock->run();
    devices.stop();
    CHECK(seen == Seen{"done", "done", "done"});
}
