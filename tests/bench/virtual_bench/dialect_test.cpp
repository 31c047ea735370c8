// Dialects: a virtual instrument in the words of each shipped profile, driven by the instrument of that
// profile, says and does what it does in its own words.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "bench/instruments/make.hpp"
#include "bench/instruments/modbus_crc.hpp"
#include "bench/virtual_bench/dialect.hpp"
#include "bench/virtual_bench/virtual_bench.hpp"
#include "tests/bench/shipped_profile.hpp"
#include "tests/bench/virtual_kinds.hpp"
#include "tests/support/test_permit.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

using namespace tipwright;
using namespace tipwright::bench;
using tipwright::test::shipped;
using tipwright::test::virtual_kinds;

namespace {

constexpr const char* shipped_pumps[] = {"generic-pump-ascii",  "generic-pump-ascii-timeout",
                                         "generic-pump-modbus", "generic-pump-modbus-timeout",
                                         "generic-pump-scpi",   "generic-pump-scpi-timeout"};

// A virtual bench on which one instrument speaks a profile; `work` is done while the clock runs.
struct OneInstrument {
    boost::asio::io_context context{1};
    std::unique_ptr<Clock> clock = make_lockstep_clock(context);
    test::VirtualKind kind = virtual_kinds().front();
    VirtualBench bench{*clock, context, kind.gauge, kind.truth, BenchTruth{}, calib::BenchMetrology{}, 3};

    std::unique_ptr<Link> link_of(const InstrumentProfile& profile) {
        bench.speak(name_of(profile.role), profile);
        auto link = bench.take_link(name_of(profile.role));
        bench.start();
        return link;
    }
    template <class Work>
    void run(Work work) {
        boost::asio::co_spawn(
            context,
            [&]() -> Task<void> {
                co_await work();
                clock->stop();
            },
            boost::asio::detached);
        clock->run();
    }
};

// As if the link had been plugged over at its far end, or one byte of an answer had been changed on the way,
// the checksum right for all that.
class AnotherName final : public Link {
public:
    AnotherName(std::unique_ptr<Link> link, int& answers) : link_(std::move(link)), answers_(answers) {}
    std::string name() const override { return link_->name(); }
    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        return link_->write(right, bytes);
    }
    void close() override { link_->close(); }
    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        Result<std::size_t> got = co_await link_->read_some(into);
        if (!got || answers_ == 0) co_return got;
        const std::string_view text(reinterpret_cast<const char*>(into.data()), *got);
        const std::size_t at = text.find("virtual-pump");
        if (at == std::string_view::npos) co_return got;
        --answers_;
        into[at] = std::byte{'V'};
        if (text.back() == '\n' || text.back() == '\r') co_return got;
        const auto checksum = crc16_modbus(text.substr(0, *got - 2));
        into[*got - 2] = static_cast<std::byte>(checksum & 0xFF);
        into[*got - 1] = static_cast<std::byte>(checksum >> 8);
        co_return got;
    }

private:
    std::unique_ptr<Link> link_;
    int& answers_;
};

}  // namespace

TEST_CASE(
    "dialects: a pump that names itself otherwise is stopped first, in the words of each shipped profile") {
    for (const char* name : shipped_pumps) {
        CAPTURE(name);
        OneInstrument setup;
        const InstrumentProfile profile = shipped(name);
        int others = 0;
        const auto pump = make_pump(profile, std::make_unique<AnotherName>(setup.link_of(profile), others),
                                    *setup.clock, setup.context);
        REQUIRE(pump);
        std::vector<std::string> outcomes;
        std::vector<double> rises_g;
        const auto note = [&](const Outcome& outcome) {
            outcomes.emplace_back(outcome ? "done" : name_of(outcome.fault().code));
        };
        // Of what comes once the lines are empty.
        const auto see = [&]() -> Task<void> {
            co_await setup.clock->sleep_for(20);
            setup.bench.physics().advance_to(setup.clock->now_s());
            const double before_g = setup.bench.physics().load_g();
            co_await setup.clock->sleep_for(30);
            setup.bench.physics().advance_to(setup.clock->now_s());
            rises_g.push_back(setup.bench.physics().load_g() - before_g);
        };
        setup.run([&]() -> Task<void> {
            static_cast<void>(co_await (*pump)->identify());
            note(co_await (*pump)->set_flow(TestPermit::get(), 120));
            co_await see();
            others = 1;
            note(co_await (*pump)->check_identity());
            co_await see();
            note(co_await (*pump)->check_identity());
            note(co_await (*pump)->set_flow(TestPermit::get(), 120));
            others = 1000;
            note(co_await (*pump)->check_identity());
            note(co_await (*pump)->set_flow(TestPermit::get(), 120));
            co_await see();
            note(co_await (*pump)->stop());
        });
        CHECK(outcomes == std::vector<std::string>{"done", "garbled_answer", "done", "done", "link_lost",
                                                   "link_lost", "done"});
        REQUIRE(rises_g.size() == 3);
        CHECK(rises_g[0] > 40);
        CHECK(rises_g[1] < 5);
        CHECK(rises_g[2] < 5);
    }
}

TEST_CASE("dialects: a pump does what it is told in the words of each shipped profile") {
    for (const char* name : shipped_pumps) {
        CAPTURE(name);
        OneInstrument setup;
        const InstrumentProfile profile = shipped(name);
        const auto pump = make_pump(profile, setup.link_of(profile), *setup.clock, setup.context);
        REQUIRE(pump);
        std::string identity;
        bool done = false;
        double delivered_g = 0;
        double after_stop_g = 0;
        setup.run([&]() -> Task<void> {
            const Result<std::string> who = co_await (*pump)->identify();
            identity = who ? *who : who.fault().line();
            Outcome armed = Done{};
            if ((*pump)->own_timeout_s() > 0) armed = co_await (*pump)->arm_own_timeout();
            const Outcome set = co_await (*pump)->set_flow(TestPermit::get(), 120);
            const Outcome alive = co_await (*pump)->keep_alive();
            for (int i = 0; i < 120; ++i) {
                co_await setup.clock->sleep_for(0.5);
                const Outcome again = co_await (*pump)->keep_alive();
                if (!again) co_return;
            }
            const Outcome stopped = co_await (*pump)->stop();
            co_await setup.clock->sleep_for(20);
            setup.bench.physics().advance_to(setup.clock->now_s());
            delivered_g = setup.bench.physics().load_g();
            co_await setup.clock->sleep_for(60);
            setup.bench.physics().advance_to(setup.clock->now_s());
            after_stop_g = setup.bench.physics().load_g();
            const Outcome drained = co_await (*pump)->set_drain(true);
            done = armed && set && alive && stopped && drained;
        });
        CHECK(done);
        CHECK(identity.find("virtual-pump 1") != std::string::npos);
        CHECK(delivered_g > 90);
        CHECK(after_stop_g == Approx(delivered_g).margin(5));
    }
}

TEST_CASE("dialects: a balance is read as it shows, in the words of each shipped profile") {
    for (const char* name : {"generic-balance-print", "generic-balance-polled", "generic-balance-modbus",
                             "generic-balance-scpi"}) {
        CAPTURE(name);
        OneInstrument setup;
        const InstrumentProfile profile = shipped(name);
        const auto balance = make_balance(profile, setup.link_of(profile), *setup.clock, setup.context);
        REQUIRE(balance);
        std::vector<WeightReading> readings;
        std::optional<Fault> fault;
        bool over = false;
        setup.run([&]() -> Task<void> {
            setup.bench.physics().put_on_pan(250);
            co_await setup.clock->sleep_for(10);
            for (int i = 0; i < 200; ++i) {
                const Result<WeightReading> reading = co_await (*balance)->next();
                if (!reading) {
                    fault = reading.fault();
                    co_return;
                }
                readings.push_back(*reading);
            }
            const Outcome tared = co_await (*balance)->tare();
            co_await setup.clock->sleep_for(10);
            for (int i = 0; tared && i < 20; ++i) {
                const Result<WeightReading> reading = co_await (*balance)->next();
                if (reading) readings.push_back(*reading);
            }
            setup.bench.physics().advance_to(setup.clock->now_s());
            setup.bench.physics().put_on_pan(90000);
            for (int i = 0; i < 40 && !over; ++i) {
                const Result<WeightReading> reading = co_await (*balance)->next();
                over = !reading && reading.fault().code == FaultCode::overload;
            }
        });
        CHECK_FALSE(fault);
        REQUIRE(readings.size() == 220);
        // Those of the moment when the mass was laid on wait first where the balance prints; noise takes the
        // mark now and then.
        const auto at_rest = static_cast<int>(
            std::count_if(readings.begin() + 180, readings.begin() + 200, [&](const WeightReading& one) {
                return one.stable && std::fabs(one.mass_g - readings[199].mass_g) < 0.1;
            }));
        CHECK(at_rest >= 10);
        const bool rest_is_told_early =
            std::any_of(readings.begin(), readings.begin() + 200, [&](const WeightReading& one) {
                return one.stable && std::fabs(one.mass_g - readings[199].mass_g) > 1;
            });
        CHECK_FALSE(rest_is_told_early);
        CHECK(readings[199].decimals == 2);
        CHECK(readings[199].mass_g - readings.back().mass_g > 240);
        CHECK(readings.back().mass_g == Approx(0).margin(0.1));
        CHECK(over);
    }
}

TEST_CASE("dialects: a climate sensor is read as it is, in the words of each shipped profile") {
    for (const char* name : {"generic-climate-ascii", "generic-climate-modbus", "generic-climate-scpi"}) {
        CAPTURE(name);
        OneInstrument setup;
        const InstrumentProfile profile = shipped(name);
        const auto climate =
            make_climate_sensor(profile, setup.link_of(profile), *setup.clock, setup.context);
        REQUIRE(climate);
        std::optional<ClimateReading> reading;
        setup.run([&]() -> Task<void> {
            const Result<ClimateReading> read = co_await (*climate)->read();
            if (read) reading = *read;
        });
        REQUIRE(reading);
        const BenchTruth truth;
        CHECK(reading->water_temperature_C == Approx(truth.water_temperature_C).margin(1));
        CHECK(reading->air_pressure_hPa == Approx(truth.air_pressure_hPa).margin(3));
        CHECK(reading->relative_humidity_percent == Approx(truth.relative_humidity_percent).margin(5));
    }
}

TEST_CASE("dialects: what is no command of a profile is refused in its words, and rubbish is passed over") {
    const InstrumentProfile modbus = shipped("generic-pump-modbus");
    const auto dialect = make_dialect(modbus);
    std::string commands;
    std::string replies;
    dialect->heard(std::string("\x00\xff\x13", 3), commands, replies);
    CHECK(commands.empty());
    const auto scpi = make_dialect(shipped("generic-pump-scpi"));
    scpi->heard("NO:SUCH 1;*OPC?\n", commands, replies);
    CHECK(replies == "1\n");
    replies.clear();
    scpi->heard("SYST:ERR?\n", commands, replies);
    CHECK(replies.starts_with("-113"));
    CHECK(commands.empty());
    const auto polled = make_dialect(shipped("generic-balance-polled"));
    CHECK(polled->said("W   12.34 g stable").empty());  // nobody asked
    polled->heard("W?\r", commands, replies);
    CHECK(commands == "W?\r");
    CHECK(polled->said("W   12.34 g stable") == "W   12.34 g stable\r\n");
    CHECK_FALSE(make_dialect(shipped("generic-balance-print")));  // the device's own words
    CHECK_FALSE(make_dialect(shipped("generic-tip-counter")));
}
