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
#include "bench/links/link.hpp"
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

const char* const no_identity = "(cannot be asked)";
const char* const plugged_over = "(another on a link that was never lost)";

struct ObedientPump final : Pump {
    explicit ObedientPump(Clock& its_clock) : clock(its_clock) {}
    std::string name() const override { return "pump"; }
    Task<Result<std::string>> identify() override {
        heard.push_back("who");
        if (identity == no_identity) co_return unidentified("pump");
        if (identity == plugged_over) {
            // As a device judges it (tests/bench/instruments/identity_test.cpp).
            listener(LinkChange::stranger, "another instrument answers on its link");
            co_return Fault{FaultCode::link_lost, "another instrument answers on its link", "pump", ""};
        }
        co_return identity;
    }
    Task<Outcome> stop() override {
        heard.push_back("stop");
        flow_mL_min = runs_on ? flow_mL_min : 0;
        co_return Done{};
    }
    Task<Outcome> set_drain(bool) override { co_return Done{}; }
    double own_timeout_s() const override { return limit_s; }
    Task<Outcome> keep_alive() override {
        heard.push_back("alive");
        co_return Done{};
    }
    Task<Outcome> check_identity() override {
        heard.push_back("same");
        if (identity != "A PUMP" && identity != no_identity)
            co_return Fault{FaultCode::garbled_answer, "answered \"" + identity + "\"", "pump", ""};
        co_return Done{};
    }
    void on_link_change(LinkListener of_guard) override { listener = std::move(of_guard); }
    int count(const std::string& word) const {
        return static_cast<int>(std::count(heard.begin(), heard.end(), word));
    }
    Task<Outcome> send_flow(double wanted) override {
        heard.push_back("flow");
        flow_mL_min = wanted;
        if (answer_is_lost) co_await for_ever(clock);
        co_return Done{};
    }

    Clock& clock;
    std::string identity = "A PUMP";
    double limit_s = 0;  // its own
    LinkListener listener;
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
            co_await (work() || weigh() || guard->keep_pump_alive());
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

TEST_CASE(
    "a pump with a time limit of its own, however long, is asked as often as any other while water flows") {
    // 0: none of its own. Nothing has it asked but the guard.
    const double limit_s = GENERATE(0.0, 600.0);
    const std::string identity = GENERATE(std::string("A PUMP"), std::string(no_identity));
    CAPTURE(limit_s, identity);
    Guarded bench({}, 60);
    bench.bench.vessel_capacity_g = 1e6;
    bench.pump.limit_s = limit_s;
    bench.pump.identity = identity;
    int standing = 0;
    bench.run([&]() -> Task<void> {
        const Outcome set = co_await bench.flow(60);
        standing = bench.pump.count("same") + bench.pump.count("alive");
        if (set) co_await bench.clock->sleep_for(10);
        static_cast<void>(co_await bench.guard->make_safe());
    });
    CHECK(standing == 0);
    // Every 0.4 s: one that is frozen for 1 s is told of, and 2 s is the limit.
    const bool known = identity != no_identity;
    CHECK(bench.pump.count("same") == (known ? Approx(25).margin(1) : Approx(0)));
    CHECK(bench.pump.count("alive") == (known || limit_s == 0 ? Approx(0) : Approx(25).margin(1)));
}

TEST_CASE("a pump with a time limit of its own is fed while it stands") {
    Guarded bench({}, 60);
    bench.pump.limit_s = 8;
    bench.run([&]() -> Task<void> {
        const auto permit = co_await bench.guard->take();
        if (permit) co_await bench.clock->sleep_for(20);
    });
    CHECK(bench.pump.count("alive") == Approx(10).margin(2));
    CHECK(bench.pump.count("same") == 0);
}

TEST_CASE("a pump that was plugged over while it stood is found before a flow is sent") {
    Guarded bench({}, 60);
    Outcome again = Done{};
    bench.run([&]() -> Task<void> {
        auto permit = co_await bench.guard->take();
        if (!permit) co_return;
        static_cast<void>(co_await bench.guard->let_flow(*permit, 60, {}));
        static_cast<void>(co_await bench.guard->stop());
        co_await bench.clock->sleep_for(1);
        bench.pump.identity = plugged_over;
        again = co_await bench.guard->let_flow(*permit, 60, {});
    });
    REQUIRE_FALSE(again.ok());
    CHECK(again.fault().code == FaultCode::link_lost);
    CHECK(bench.pump.heard == std::vector<std::string>{"stop", "who", "who", "flow", "stop", "who", "who"});
    CHECK(bench.told.find(plug) != std::string::npos);
}

TEST_CASE("another pump on a link that was never lost is told to stop, and its answer is not believed") {
    Guarded bench({}, 60);
    Outcome stopped = Done{};
    bench.run([&]() -> Task<void> {
        const Outcome set = co_await bench.flow(60);
        if (set) bench.pump.listener(LinkChange::stranger, "another instrument answers on its link");
        bench.pump.heard.clear();
        stopped = co_await bench.guard->make_safe();
    });
    REQUIRE_FALSE(stopped.ok());
    CHECK(stopped.fault().code == FaultCode::link_lost);
    CHECK(bench.pump.heard == std::vector<std::string>{"stop"});
    CHECK(bench.told.find("its pump is out of reach") != std::string::npos);
    CHECK(bench.guard->flowing());
}

TEST_CASE("noise ends the work, for the pump was told to stop, and sends nobody to its plug") {
    Guarded bench({}, 60);
    bench.bench.vessel_capacity_g = 1e6;
    Outcome outcome = Done{};
    bench.run([&]() -> Task<void> {
        outcome = co_await bench.guard->carry_out([&]() -> Task<Outcome> {
            const Outcome set = co_await bench.flow(60);
            if (!set) co_return set;
            bench.pump.identity = "A PUMQ";
            co_await for_ever(*bench.clock);
            co_return Done{};
        });
        bench.pump.identity = "A PUMP";
        static_cast<void>(co_await bench.guard->make_safe());
    });
    REQUIRE_FALSE(outcome.ok());
    // As after a lost link the person is asked whether to go on.
    CHECK(outcome.fault().code == FaultCode::link_lost);
    CHECK(outcome.fault().what == "answered \"A PUMQ\"");
    CHECK(bench.told.empty());
    CHECK(bench.pump.flow_mL_min == 0);
}

TEST_CASE("a pump that came back and does not say who it is sends the person to the plug while water flows") {
    const bool flows = GENERATE(true, false);
    Guarded bench({}, 60);
    bench.pump.identity = no_identity;
    bench.run([&]() -> Task<void> {
        const Outcome set = co_await bench.flow(60);
        if (set && !flows) static_cast<void>(co_await bench.guard->stop());
        bench.pump.listener(LinkChange::lost, "pulled");
        bench.pump.listener(LinkChange::returned_unknown, "");
        // Before anybody has waited for anything.
        CHECK((bench.told.find(plug) != std::string::npos) == flows);
    });
    CHECK((bench.told.find("does not say who it is. Leave the plug only if") != std::string::npos) == flows);
}

TEST_CASE(
    "nothing of ours goes into the middle of a person's message, and the command to stop behind its end") {
    Guarded bench({}, 60);
    bench.bench.vessel_capacity_g = 1e6;
    auto [near, far] = make_lockstep_pair(bench.context, "by hand");
    std::vector<std::string> heard;
    int asked_meanwhile = -1;
    const auto listen = [&]() -> Task<void> {
        for (;;) {
            std::byte buffer[64];
            const Result<std::size_t> got = co_await far->read_some(buffer);
            if (!got) co_return;
            heard.emplace_back(reinterpret_cast<const char*>(buffer), *got);
            heard.push_back("stops so far: " + std::to_string(bench.pump.count("stop")));
        }
    };
    asio::co_spawn(bench.context, listen, asio::detached);
    const auto bytes = [](std::string_view text) { return std::as_bytes(std::span(text)); };
    bench.run([&]() -> Task<void> {
        auto permit = co_await bench.guard->take();
        if (!permit) co_return;
        static_cast<void>(co_await bench.guard->let_send(*permit, *near, bytes("FLOW 60\r"), "\r"));
        co_await bench.clock->sleep_for(2);
        static_cast<void>(co_await bench.guard->let_send(*permit, *near, bytes("FLOW 6"), "\r"));
        const int asked = bench.pump.count("same");
        co_await bench.clock->sleep_for(10);
        asked_meanwhile = bench.pump.count("same") - asked;
        CHECK(asked > 2);
        static_cast<void>(co_await bench.guard->make_safe());
    });
    // Who reads at the far end comes to its end before it does.
    far->close();
    bench.clock->run();
    CHECK(asked_meanwhile == 0);
    CHECK(heard == std::vector<std::string>{"FLOW 60\r", "stops so far: 1", "FLOW 6", "stops so far: 1", "\r",
                                            "stops so far: 1"});
    CHECK(bench.pump.heard.back() != "flow");
}
