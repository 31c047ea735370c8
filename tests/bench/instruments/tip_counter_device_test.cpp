// Tip counter: edges on bench time out of its lines, and what is told of lines that are missing.
#include "tests/bench/scripted_instrument.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("a counter gives edges on bench time and tells lost lines, restarts and silence") {
    Bench bench;
    auto made = make_tip_counter(bench.profile("generic-tip-counter"), bench.near_link(), *bench.clock,
                                 bench.context);
    TipCounter& counter = **made;
    bench.say(1, with_checksum("H 1 500000000"));
    bench.say(2.5, with_checksum("E 2 501500000 1 1"));
    bench.say(2.6, with_checksum("E 2 501500000 1 1"));  // doubled on the way: one edge
    bench.say(2.7, with_checksum("E 3 501600000 1 0"));
    bench.say(3, with_checksum("H 4 502000000") + with_checksum("E 6 502000100 2 1"));
    bench.say(5, with_checksum("H 1 90000"));
    bench.say(6, with_checksum("E 2 1090000 1 1"));
    Seen seen;
    std::vector<double> times;
    std::vector<std::string> told;
    bench.start([](TipCounter& c, Seen& log, std::vector<double>& at_s, Seen& faults) -> Task<void> {
        for (int i = 0; i < 7; ++i) {
            Result<ContactEdge> edge = co_await c.next();
            log.push_back(shown(edge));
            at_s.push_back(edge ? edge->time_s : -1);
            if (!edge) faults.push_back(edge.fault().what);
        }
    }(counter, seen, times, told));
    bench.clock->run();
    CHECK(seen == Seen{"1 closed #2", "1 open #3", "garbled_answer", "2 closed #6", "garbled_answer",
                       "1 closed #2", "counter_silent"});
    REQUIRE(told.size() == 3);
    CHECK(told[0] == "1 line of the counter got lost before line 6 at 3.0 s");
    CHECK(told[1].find("after line 6 came line 1 at 5.0 s") != std::string::npos);
    CHECK(times[0] == Approx(2.5).margin(1e-6));
    CHECK(times[1] == Approx(2.6).margin(1e-6));  // by its own clock: the line was late
    CHECK(times[3] == Approx(3.0).margin(2e-4));
    CHECK(times[5] == Approx(6).margin(1e-6));
    CHECK(bench.clock->now_s() == Approx(11));
}

TEST_CASE("a counter that never speaks is silent from the beginning") {
    Bench bench;
    auto made = make_tip_counter(bench.profile("generic-tip-counter"), bench.near_link(), *bench.clock,
                                 bench.context);
    Seen seen;
    bench.start(watch(**made, 2, seen));
    bench.clock->run();
    CHECK(seen == Seen{"counter_silent", "counter_silent"});
    CHECK(bench.clock->now_s() == 10);
}

TEST_CASE("a counter says who it is between its other lines, again when its answer got lost") {
    Bench bench;
    auto made = make_tip_counter(bench.profile("generic-tip-counter"), bench.near_link(), *bench.clock,
                                 bench.context);
    TipCounter& counter = **made;
    bench.say(0.5, with_checksum("H 1 500000"));
    bench.say(1.1, with_checksum("E 2 1100000 1 1"));
    int asked = 0;
    bench.answer_with([&](const std::string& command) -> std::string {
        CHECK(command == "ID?");
        return ++asked == 1 ? "I 3 1200000 my counter 7 *0000\r\n"
                            : with_checksum("I 3 2000000 my counter 7");
    });
    bench.say(3, with_checksum("E 4 3000000 1 0"));
    Seen seen;
    bench.start(watch(counter, 3, seen));
    bench.start([](Bench& b, TipCounter& c, Seen& log) -> Task<void> {
        co_await b.clock->sleep_until(1);
        Result<std::string> who = co_await c.identify();
        log.push_back(who ? *who : who.fault().line());
    }(bench, counter, seen));
    bench.clock->run();
    // Its number counts among the others: no line is missing.
    CHECK(seen == Seen{"1 closed #2", "my counter 7", "1 open #4", "counter_silent"});
    CHECK(asked == 2);
}

TEST_CASE("a counter that cannot hear is not asked, one that does not answer is told") {
    Seen seen;
    for (const bool hears : {false, true}) {
        Bench bench;
        const auto profile = parse_profile({"my.toml",
                                            "title = \"T\"\nfamily = \"tip-counter\"\nrole = "
                                            "\"counter\"\nanswers_identity = " +
                                                std::string(hears ? "true" : "false") + "\n"});
        REQUIRE(profile.ok());
        auto made = make_tip_counter(*profile, bench.near_link(), *bench.clock, bench.context);
        bench.start([](TipCounter& c, Seen& log) -> Task<void> {
            Result<std::string> who = co_await c.identify();
            log.push_back(who ? *who : std::string(name_of(who.fault().code)));
        }(**made, seen));
        bench.clock->run();
        CHECK(bench.clock->now_s() == (hears ? 3 : 0));
    }
    CHECK(seen == Seen{"inconsistent", "no_answer"});
}
