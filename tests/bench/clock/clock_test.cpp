#include "bench/clock/clock.hpp"

#include <chrono>
#include <limits>
#include <string>
#include <thread>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/post.hpp>
#include <catch2/catch.hpp>

#include "tests/bench/within.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace asio = boost::asio;

namespace {

constexpr double forever_s = std::numeric_limits<double>::infinity();

struct Lockstep {
    asio::io_context context;
    std::unique_ptr<Clock> clock = make_lockstep_clock(context);

    void start(Task<void> task) { asio::co_spawn(context, std::move(task), asio::detached); }
};

Task<void> note_after(Clock& clock, double time_s, std::string what, std::vector<std::string>& notes) {
    co_await clock.sleep_until(time_s);
    notes.push_back(what + "@" + std::to_string(clock.now_s()));
}

Task<void> tick(Clock& clock, double period_s, int count, std::string what, std::vector<std::string>& notes) {
    for (int i = 0; i < count; ++i) {
        co_await clock.sleep_for(period_s);
        notes.push_back(what);
    }
}

Task<void> tick_at(Clock& clock, int count, std::vector<std::string>& notes) {
    for (int i = 1; i <= count; ++i) {
        co_await clock.sleep_until(i);
        notes.push_back(std::to_string(clock.now_s()));
    }
}

Task<Result<int>> answer_after(Clock& clock, double duration_s, int value) {
    co_await clock.sleep_for(duration_s);
    co_return value;
}

}  // namespace

TEST_CASE("lockstep wakes sleepers by time, and by order of arrival at equal times") {
    Lockstep bench;
    std::vector<std::string> notes;
    bench.start(note_after(*bench.clock, 7200, "c", notes));
    bench.start(note_after(*bench.clock, 3600, "a", notes));
    bench.start(note_after(*bench.clock, 3600, "b", notes));
    bench.start(note_after(*bench.clock, -5, "past", notes));
    bench.start(note_after(*bench.clock, -forever_s, "long past", notes));
    bench.clock->run();
    CHECK(notes == std::vector<std::string>{"long past@0.000000", "past@0.000000", "a@3600.000000",
                                            "b@3600.000000", "c@7200.000000"});
    CHECK(bench.clock->now_s() == 7200);
}

TEST_CASE("lockstep runs two tickers in the same order every time") {
    std::vector<std::string> first;
    for (int repeat = 0; repeat < 3; ++repeat) {
        Lockstep bench;
        std::vector<std::string> notes;
        bench.start(tick(*bench.clock, 0.25, 12, "x", notes));
        bench.start(tick(*bench.clock, 0.5, 6, "y", notes));
        bench.clock->run();
        REQUIRE(notes.size() == 18);
        if (repeat == 0) first = notes;
        CHECK(notes == first);
    }
}

TEST_CASE("lockstep stops when told, and returns when nothing can happen any more") {
    Lockstep bench;
    std::vector<std::string> notes;
    bench.start(tick(*bench.clock, 1, 1000, "x", notes));
    bench.start([](Clock& clock) -> Task<void> {
        co_await clock.sleep_for(10.5);
        clock.stop();
    }(*bench.clock));
    bench.clock->run();
    CHECK(notes.size() == 10);
    bench.clock->run();
    CHECK(notes.size() == 1000);
}

TEST_CASE("a time limit ends a slow task and leaves a quick one alone") {
    using namespace asio::experimental::awaitable_operators;
    Lockstep bench;
    std::vector<std::string> notes;
    bench.start([](Clock& clock, std::vector<std::string>& seen) -> Task<void> {
        Result<int> quick = co_await within(clock, 5, answer_after(clock, 2, 42), "balance");
        seen.push_back(quick ? std::to_string(*quick) : "fault");
        seen.push_back(std::to_string(clock.now_s()));
        Result<int> slow = co_await within(clock, 5, answer_after(clock, 100, 43), "balance");
        seen.push_back(slow ? "value" : std::string(slow.fault().where));
        CHECK((!slow && slow.fault().code == FaultCode::no_answer));
        seen.push_back(std::to_string(clock.now_s()));
        auto which = co_await (clock.sleep_for(3) || clock.sleep_for(1));
        seen.push_back(std::to_string(which.index()) + " " + std::to_string(clock.now_s()));
    }(*bench.clock, notes));
    bench.clock->run();
    CHECK(notes == std::vector<std::string>{"42", "2.000000", "balance", "7.000000", "1 8.000000"});
    CHECK(bench.clock->now_s() == 8);
}

TEST_CASE("an alarm wakes its waiter before the time, and keeps a ring that came early") {
    Lockstep bench;
    auto alarm = bench.clock->make_alarm();
    std::vector<std::string> notes;
    bench.start([](Clock& clock, Alarm& bell, std::vector<std::string>& seen) -> Task<void> {
        for (double until_s : {10.0, 20.0, 30.0, forever_s}) {
            const bool rung = co_await bell.wait_until(until_s);
            seen.push_back(std::string(rung ? "rung" : "time") + " " + std::to_string(clock.now_s()));
            if (!rung) co_await clock.sleep_for(1);
        }
    }(*bench.clock, *alarm, notes));
    bench.start([](Clock& clock, Alarm& bell) -> Task<void> {
        co_await clock.sleep_until(4);
        bell.ring();
        co_await clock.sleep_until(20.5);  // while the other sleeps
        bell.ring();
        co_await clock.sleep_until(50);
        bell.ring();
    }(*bench.clock, *alarm));
    bench.clock->run();
    CHECK(notes ==
          std::vector<std::string>{"rung 4.000000", "time 20.000000", "rung 21.000000", "rung 50.000000"});
}

TEST_CASE("a lockstep clock with sleepers left is destroyed cleanly") {
    std::vector<std::string> notes;
    {
        Lockstep bench;
        bench.start(tick(*bench.clock, 1, 1000, "x", notes));
        bench.start(note_after(*bench.clock, forever_s, "never", notes));
        bench.start([](Clock& clock) -> Task<void> {
            co_await clock.sleep_for(3.5);
            clock.stop();
        }(*bench.clock));
        bench.clock->run();
    }
    CHECK(notes.size() == 3);
}

TEST_CASE("the wall clock does the same work, faster by its factor") {
    asio::io_context context;
    const auto clock = make_wall_clock(context, 1e6);
    std::vector<std::string> notes;
    auto start = [&](Task<void> task) { asio::co_spawn(context, std::move(task), asio::detached); };
    auto alarm = clock->make_alarm();
    bool rung = false;
    bool timed_out = false;
    start([](Clock& c, Alarm& bell, bool& was_rung, bool& was_late) -> Task<void> {
        was_rung = co_await bell.wait_until(1e12);
        was_late = !(co_await bell.wait_until(c.now_s() + 100));
        Result<int> slow = co_await within(c, 100, answer_after(c, 1e9, 1), "balance");
        CHECK(!slow);
        c.stop();
    }(*clock, *alarm, rung, timed_out));
    start([](Clock& c, Alarm& bell) -> Task<void> {
        co_await c.sleep_for(1000);
        bell.ring();
    }(*clock, *alarm));
    clock->run();
    CHECK(rung);
    CHECK(timed_out);
    CHECK(clock->now_s() > 1100);
}

TEST_CASE("a paced clock that is held up loses no bench time, and jumps over none") {
    asio::io_context context;
    const auto clock = make_paced_clock(context, 1000);
    std::vector<std::string> notes;
    asio::co_spawn(context, tick_at(*clock, 8, notes), asio::detached);
    asio::co_spawn(
        context,
        [&]() -> Task<void> {
            co_await clock->sleep_until(3.5);
            // Two hundred bench seconds of real time.
            std::this_thread::sleep_for(std::chrono::milliseconds(200));
            notes.push_back("held up until " + std::to_string(clock->now_s()));
        },
        asio::detached);
    const auto began = std::chrono::steady_clock::now();
    clock->run();
    CHECK(notes == std::vector<std::string>{"1.000000", "2.000000", "3.000000", "held up until 3.500000",
                                            "4.000000", "5.000000", "6.000000", "7.000000", "8.000000"});
    // It waits at all: 3.5 ms before it is held up, 4.5 after.
    CHECK(std::chrono::steady_clock::now() - began >= std::chrono::milliseconds(207));
}

TEST_CASE("what comes from outside is heard while a paced clock waits, at the time that it shows") {
    asio::io_context context;
    const auto clock = make_paced_clock(context, 10);
    asio::co_spawn(
        context, [&]() -> Task<void> { co_await clock->sleep_until(1e6); }, asio::detached);
    double heard_s = -1;
    std::thread outside([&] {
        std::this_thread::sleep_for(std::chrono::milliseconds(30));
        asio::post(context, [&] {
            heard_s = clock->now_s();
            clock->stop();
        });
    });
    clock->run();
    outside.join();
    CHECK(heard_s >= 0.3);
    CHECK(heard_s < 1e6);
    CHECK(clock->now_s() >= heard_s);
}
