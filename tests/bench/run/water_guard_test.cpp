// The guard of a pump: work that waits for a silent instrument is abandoned the moment no water may flow any
// more; the balance must confirm that the water stands; another bench's pump is told nothing but to stop. In
// lockstep, with instruments that do as the test says.
#include <algorithm>
#include <catch2/catch.hpp>
#include <functional>
#include <limits>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/run/supervision.hpp"
#include "bench/run/water_guard.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace asio = boost::asio;

namespace {

Task<void> for_ever(Clock& clock) {
    const auto never = clock.make_alarm();
    for (;;) co_await never->wait_until(std::numeric_limits<double>::infinity());
}

struct ObedientPump final : Pump {
    explicit ObedientPump(Clock& its_clock) : clock(its_clock) {}
    std::string name() const override { return "pump"; }
    Task<Result<std::string>> identify() override {
        heard.push_back("who");
        co_return identity;
    }
    Task<Outcome> stop() override {
        heard.push_back("stop");
        flow_mL_min = runs_on ? flow_mL_min : 0;
        co_return Done{};
    }
    Task<Outcome> set_drain(bool) override { co_return Done{}; }
    Task<Outcome> send_flow(double wanted) override {
        heard.push_back("flow");
        flow_mL_min = wanted;
        if (answer_is_lost) co_await for_ever(clock);
        co_return Done{};
    }

    Clock& clock;
    std::string identity = "A PUMP";
    bool answer_is_lost = false;
    bool runs_on = false;  // whatever it says
    double flow_mL_min = 0;
    std::vector<std::string> heard;
};

struct UnreadBalance final : Balance {
    std::string name() const override { return "balance"; }
    Task<Result<WeightReading>> next() override { co_return unidentified("balance"); }
    Task<Outcome> tare() override { co_return Done{}; }
};

struct UnreadCounter final : TipCounter {
    std::string name() const override { return "counter"; }
    Task<Result<ContactEdge>> next() override { co_return unidentified("counter"); }
};

SupervisionOptions watched_for(double hang_s) {
    SupervisionOptions options;
    options.hang_s = hang_s;
    return options;
}

class Guarded {
public:
    explicit Guarded(KnownIdentities identities = {}, double hang_s = 0)
        : supervision(context, watched_for(hang_s)) {
        const auto templates = std::string(tipwright::test::source_dir()) + "/templates";
        auto loaded = load_bench("virtual-bench", templates);
        REQUIRE(loaded.ok());
        bench = std::move(*loaded);
        bench.vessel_capacity_g = 100;
        guard = std::make_unique<WaterGuard>(
            context, *clock, Lane{pump, balance, counter, nullptr, std::nullopt, std::move(identities)},
            gauge, bench, supervision, control, nullptr, nullptr,
            [this](const std::string& text) { told += text + "\n"; });
    }

    // What the balance shows, ten times a second: the water that the pump has delivered.
    Task<void> weigh() {
        for (;;) {
            co_await clock->sleep_for(0.1);
            mass_g += pump.flow_mL_min / 600;
            WeightReading reading;
            reading.mass_g = mass_g;
            reading.arrived_s = clock->now_s();
            guard->weight(reading);
        }
    }
    Task<Outcome> flow(double flow_mL_min) {
        auto permit = co_await guard->take();
        if (!permit) co_return permit.fault();
        permit_ = std::make_unique<WaterPermit>(std::move(*permit));
        co_return co_await guard->let_flow(*permit_, flow_mL_min, {});
    }
    void request_stop_at(double time_s) {
        asio::co_spawn(
            context,
            [](Clock& its_clock, RunControl& run, double at_s) -> Task<void> {
                co_await its_clock.sleep_until(at_s);
                run.request_stop({FaultCode::interrupted, "stopped by the operator", "run", ""});
            }(*clock, control, time_s),
            asio::detached);
    }
    void run(std::function<Task<void>()> work) {
        const auto all = [this, &work]() -> Task<void> {
            using namespace asio::experimental::awaitable_operators;
            co_await (work() || weigh());
            clock->stop();
        };
        std::exception_ptr defect;
        asio::co_spawn(context, all, [&](const std::exception_ptr& error) { defect = error; });
        clock->run();
        if (defect) std::rethrow_exception(defect);
    }

    asio::io_context context{1};
    std::unique_ptr<Clock> clock = make_lockstep_clock(context);
    Supervision supervision;
    RunControl control;
    ObedientPump pump{*clock};
    UnreadBalance balance;
    UnreadCounter counter;
    calib::Gauge gauge;
    BenchDescription bench;
    std::string told;
    double mass_g = 0;
    std::unique_ptr<WaterGuard> guard;

private:
    std::unique_ptr<WaterPermit> permit_;
};

const char* const plug = "PULL THE PUMP'S PLUG NOW";

}  // namespace

TEST_CASE("work that waits for a silent instrument is abandoned when somebody asks to end") {
    Guarded bench;
    bench.request_stop_at(1);
    Outcome outcome = Done{};
    double ended_s = 0;
    bench.run([&]() -> Task<void> {
        outcome = co_await bench.guard->carry_out([&]() -> Task<Outcome> {
            const Outcome set = co_await bench.flow(60);
            if (!set) co_return set;
            co_await for_ever(*bench.clock);  // a climate sensor, for one
            co_return Done{};
        });
        ended_s = bench.clock->now_s();
        static_cast<void>(co_await bench.guard->make_safe());
    });
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.fault().code == FaultCode::interrupted);
    CHECK(ended_s == Approx(1));
    CHECK(bench.pump.flow_mL_min == 0);
}

TEST_CASE("the limit of the vessel holds while work waits for a silent instrument") {
    Guarded bench;
    Outcome outcome = Done{};
    bench.run([&]() -> Task<void> {
        outcome = co_await bench.guard->carry_out([&]() -> Task<Outcome> {
            bench.guard->interlocks().end_emptying(0);
            const Outcome set = co_await bench.flow(60);
            if (!set) co_return set;
            co_await for_ever(*bench.clock);
            co_return Done{};
        });
        static_cast<void>(co_await bench.guard->make_safe());
    });
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.fault().code == FaultCode::vessel_full);
    CHECK(bench.mass_g == Approx(100).margin(1));
}

TEST_CASE("a flow whose answer is lost is abandoned, and the pump told to stop twice") {
    Guarded bench;
    bench.pump.answer_is_lost = true;
    bench.request_stop_at(1);
    Outcome outcome = Done{};
    bench.run([&]() -> Task<void> {
        outcome = co_await bench.guard->carry_out([&] { return bench.flow(60); });
        static_cast<void>(co_await bench.guard->make_safe());
    });
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.fault().code == FaultCode::interrupted);
    // The first answer may be that to the flow.
    CHECK(bench.pump.heard == std::vector<std::string>{"stop", "flow", "stop", "stop"});
}

TEST_CASE("what the work throws comes out of the guard at once") {
    Guarded bench;
    double ended_s = -1;
    bench.run([&]() -> Task<void> {
        bool thrown = false;
        try {
            static_cast<void>(co_await bench.guard->carry_out([&]() -> Task<Outcome> {
                co_await bench.clock->sleep_for(1);
                throw std::runtime_error("a defect");
            }));
        } catch (const std::runtime_error&) {
            thrown = true;
        }
        if (thrown) ended_s = bench.clock->now_s();
    });
    CHECK(ended_s == Approx(1));
}

TEST_CASE("a pump that says it stopped is believed when the balance stands still") {
    const bool runs_on = GENERATE(false, true);
    Guarded bench;
    bench.bench.vessel_capacity_g = 1e6;
    bench.pump.runs_on = runs_on;
    bool stopped = false;
    bool confirmed = false;
    bench.run([&]() -> Task<void> {
        const Outcome set = co_await bench.flow(60);
        if (set) co_await bench.clock->sleep_for(10);
        stopped = (co_await bench.guard->make_safe()).ok();
        confirmed = co_await bench.guard->confirm_stopped(stopped);
    });
    CHECK(stopped);
    CHECK(confirmed == !runs_on);
    CHECK(bench.guard->quiet() == !runs_on);
    CHECK((bench.told.find(plug) != std::string::npos) == runs_on);
}

TEST_CASE(
    "another pump than the run's own is told nothing but to stop, and the person is sent to the own one") {
    const std::string said = GENERATE("A PUMP", "SOMEBODY ELSES PUMP");
    Guarded bench({{"pump", "\"A PUMP\""}}, 60);
    bench.pump.identity = said;
    Outcome outcome = Done{};
    bench.run([&]() -> Task<void> {
        outcome = co_await bench.guard->carry_out([&] { return bench.flow(60); });
        static_cast<void>(co_await bench.guard->make_safe());
    });
    if (said == "A PUMP") {
        CHECK(outcome.ok());
        CHECK(bench.told.empty());
        return;
    }
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.fault().line() ==
          "pump: another instrument answers on its link: \"SOMEBODY ELSES PUMP\" instead of \"A PUMP\"; put "
          "the "
          "cables back as they were");
    CHECK(bench.pump.heard == std::vector<std::string>{"stop", "who"});
    CHECK(bench.told.find(plug) != std::string::npos);
}
