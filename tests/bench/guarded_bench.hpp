// For tests of what holds a pump: a guard over a pump, a balance and a counter that do as the test says, in
// lockstep.
#pragma once

#include <algorithm>
#include <catch2/catch.hpp>
#include <functional>
#include <limits>
#include <memory>
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

namespace tipwright::test {

using namespace bench;

namespace asio = boost::asio;

inline Task<void> for_ever(Clock& clock) {
    const auto never = clock.make_alarm();
    for (;;) co_await never->wait_until(std::numeric_limits<double>::infinity());
}

inline const char* const no_identity = "(cannot be asked)";
inline const char* const plugged_over = "(another on a link that was never lost)";

struct ObedientPump final : Pump {
    explicit ObedientPump(Clock& its_clock) : clock(its_clock) {}
    std::string name() const override { return "pump"; }
    Task<Result<std::string>> identify() override {
        heard.push_back("who");
        if (noisy_answers > 0) {
            --noisy_answers;
            co_return Fault{FaultCode::garbled_answer, "answered \"A PU?P\"", "pump", ""};
        }
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
    Task<Outcome> set_drain(bool open) override {
        if (drained) drained(open);
        co_return Done{};
    }
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
    int noisy_answers = 0;  // to who it is, before the right one
    std::function<void(bool)> drained;
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

inline SupervisionOptions watched_for(double hang_s) {
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

inline const char* const plug = "PULL THE PUMP'S PLUG NOW";

}  // namespace tipwright::test
