// Line ASCII, pump and balances: what they send, what they take for an answer, and what they tell of rubbish.
#include <limits>

#include "tests/bench/scripted_instrument.hpp"
#include "tests/support/test_permit.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("a pump is told its flow, repeats after silence, and reports a refusal") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    REQUIRE(made.ok());
    Pump& pump = **made;
    int silent = 0;
    bench.answer_with([&](const std::string& command) -> std::string {
        if (silent > 0) {
            --silent;
            return "";
        }
        if (command == "FLOW 999.000") return "ERR flow out of range\r\n";
        return "OK " + command + "\r\n";
    });
    Seen seen;
    bench.start([](Bench& b, Pump& p, int& mute, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(TestPermit::get(), 12.3456);
        log.push_back(shown(outcome));
        mute = 2;
        outcome = co_await p.stop();
        log.push_back(shown(outcome) + " after " + std::to_string(b.clock->now_s()));
        outcome = co_await p.set_flow(TestPermit::get(), 999);
        log.push_back(shown(outcome) + ": " + outcome.fault().what);
        outcome = co_await p.set_drain(true);
        log.push_back(shown(outcome));
        mute = 100;
        outcome = co_await p.stop();
        log.push_back(shown(outcome));
        outcome = co_await p.set_flow(TestPermit::get(), std::numeric_limits<double>::quiet_NaN());
        log.push_back(shown(outcome));
        outcome = co_await p.set_flow(TestPermit::get(), -1);
        log.push_back(shown(outcome));
    }(bench, pump, silent, seen));
    bench.clock->run();
    REQUIRE(seen.size() == 7);
    CHECK(seen[0] == "done");
    CHECK(seen[1] == "done after 1.010000");  // 5 ms, twice the answer time of 0.5 s, 5 ms
    CHECK(seen[2] == "refused: refused the command for the flow: \"flow out of range\"");
    CHECK(seen[3] == "done");
    CHECK(seen[4] == "no_answer");
    CHECK(seen[5] == "bad_value");
    CHECK(seen[6] == "bad_value");
    CHECK(bench.commands[0] == "FLOW 12.346");
}

TEST_CASE("an acknowledgement of another flow is not taken, rubbish is told as such") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    Pump& pump = **made;
    int count = 0;
    bench.answer_with([&](const std::string&) -> std::string {
        ++count;
        return count == 1 ? "OK FLOW 7.000\r\n" : count == 2 ? "OK FLOW 8.000\r\n" : "\xff\xfe\r\n";
    });
    Seen seen;
    bench.start([](Pump& p, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(TestPermit::get(), 8);
        log.push_back(shown(outcome));
        outcome = co_await p.set_flow(TestPermit::get(), 9);
        log.push_back(shown(outcome));
    }(pump, seen));
    bench.clock->run();
    CHECK(seen == Seen{"done", "garbled_answer"});
}

TEST_CASE("a stop overtakes a command that still waits") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    Pump& pump = **made;
    bench.answer_with([](const std::string& command) { return command == "STOP" ? "OK STOP\r\n" : ""; });
    Seen seen;
    bench.start([](Pump& p, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(TestPermit::get(), 8);
        log.push_back("flow " + shown(outcome));
    }(pump, seen));
    bench.start([](Bench& b, Pump& p, Seen& log) -> Task<void> {
        co_await b.clock->sleep_for(0.1);
        Outcome outcome = co_await p.stop();
        log.push_back("stop " + shown(outcome) + " @" + std::to_string(b.clock->now_s()));
    }(bench, pump, seen));
    bench.clock->run();
    CHECK(seen == Seen{"flow interrupted", "stop done @0.105000"});
}

TEST_CASE("a lost link is told at once, to who waits and to who asks later") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    Pump& pump = **made;
    Seen seen;
    bench.start([](Bench& b, Pump& p, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(TestPermit::get(), 8);
        log.push_back(shown(outcome) + " @" + std::to_string(b.clock->now_s()));
        outcome = co_await p.stop();
        log.push_back(shown(outcome));
    }(bench, pump, seen));
    bench.start([](Bench& b) -> Task<void> {
        co_await b.clock->sleep_for(0.25);
        b.far->close();
    }(bench));
    bench.clock->run();
    CHECK(seen == Seen{"link_lost @0.250000", "link_lost"});
}

TEST_CASE("a printing balance gives each print once, with its time") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-print"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    bench.say(0.5, "ble\r\n");  // half a line: the balance was printing when the port was opened
    bench.say(1, "W   12.34 g stable\r\n");
    bench.say(1.2, "W   12.3");
    bench.say(1.3, "5 g moving\r\nW over\r\n");
    bench.say(2, "W   1\xfe.35 g moving\r\n");
    bench.say(2.2, "W   12.36 g moving\r\n");
    Seen seen;
    bench.start(watch(balance, 5, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @1.000000", "12.35 g moving @1.300000", "overload",
                       "12.36 g moving @2.200000", "no_answer"});
    CHECK(bench.clock->now_s() == Approx(7.2));
}

TEST_CASE("a balance that only prints rubbish is told, whatever the rubbish") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-print"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    bench.say(1, "W   12.34 g stable\r\n");
    for (int i = 0; i < 6; ++i) bench.say(2 + 0.1 * i, "\x81\x82W 1\r\n");
    Seen seen;
    bench.start(watch(balance, 3, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @1.000000", "garbled_answer", "garbled_answer"});
}

TEST_CASE("taring drops what was printed before") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-print"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    bench.answer_with(
        [](const std::string& command) { return "W  100.00 g stable\r\nOK " + command + "\r\n"; });
    bench.say(1, "W  100.00 g stable\r\n");
    bench.say(3, "W    0.00 g stable\r\n");
    Seen seen;
    bench.start([](Bench& b, Balance& scale, Seen& log) -> Task<void> {
        co_await b.clock->sleep_until(2);
        Outcome outcome = co_await scale.tare();
        log.push_back(shown(outcome));
        co_await watch(scale, 1, log);
    }(bench, balance, seen));
    bench.clock->run();
    CHECK(seen == Seen{"done", "0.00 g stable @3.000000"});
}

TEST_CASE("a polled balance is asked, not more often than its profile says") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-polled"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    int count = 0;
    bench.answer_with([&](const std::string& command) -> std::string {
        CHECK(command == "W?");
        ++count;
        if (count == 3) return "W over\r\n";
        if (count >= 4) return "";
        return "W   12.34 g stable\r\n";
    });
    Seen seen;
    bench.start(watch(balance, 4, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @0.005000", "12.34 g stable @0.205000", "overload", "no_answer"});
}

TEST_CASE("a pump's own time limit is armed, and its keep-alive gives way to any other command") {
    Bench bench;
    auto made = make_pump(bench.profile("generic-pump-ascii-timeout"), bench.near_link(), *bench.clock,
                          bench.context);
    REQUIRE(made.ok());
    Pump& pump = **made;
    CHECK(pump.own_timeout_s() == 2);
    bench.answer_with([](const std::string& command) -> std::string {
        if (command == "ID?") return "ID pump\r\n";
        return command == "TIMEOUT 2.0" ? "OK TIMEOUT 2.0\r\n" : "OK " + command + "\r\n";
    });
    Seen seen;
    bench.start([](Pump& p, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.arm_own_timeout();
        log.push_back("arm " + shown(outcome));
        outcome = co_await p.keep_alive();
        log.push_back("alive " + shown(outcome));
        outcome = co_await p.stop();
        log.push_back("stop " + shown(outcome));
    }(pump, seen));
    bench.start([](Bench& b, Pump& p, Seen& log) -> Task<void> {
        co_await b.clock->sleep_until(0.012);  // while the stop waits for its answer
        Outcome outcome = co_await p.keep_alive();
        log.push_back("alive meanwhile " + shown(outcome));
    }(bench, pump, seen));
    bench.clock->run();
    CHECK(seen == Seen{"arm done", "alive done", "alive meanwhile done", "stop done"});
    CHECK(bench.commands == Seen{"TIMEOUT 2.0", "ID?", "STOP"});
}

TEST_CASE("a pump whose own time limit is the shortest that a profile may say is kept alive too") {
    Bench bench;
    DescriptionText text = bench.profile("generic-pump-ascii-timeout").text;
    const std::string limit = "own_timeout_s = 2";
    text.text.replace(text.text.find(limit), limit.size(), "own_timeout_s = 0.5");
    const auto profile = parse_profile(text);
    REQUIRE(profile.ok());
    auto made = make_pump(*profile, bench.near_link(), *bench.clock, bench.context);
    REQUIRE(made.ok());
    CHECK((*made)->own_timeout_s() == 0.5);
    bench.answer_with([](const std::string&) { return "ID pump\r\n"; });
    Seen seen;
    bench.start([](Pump& pump, Seen& log) -> Task<void> { log.push_back(shown(co_await pump.keep_alive())); }(
                                              **made, seen));
    bench.clock->run();
    CHECK(seen == Seen{"done"});
    CHECK(bench.commands == Seen{"ID?"});
}
