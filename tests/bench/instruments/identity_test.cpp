// Who answers on a link that was never lost: a pump is known by two answers that agree, noise convicts
// nobody, and whoever is in doubt is told to stop before anything else.
#include <algorithm>
#include <cstddef>
#include <functional>

#include <boost/asio/experimental/awaitable_operators.hpp>

#include "bench/instruments/identity_words.hpp"
#include "bench/instruments/message_ending.hpp"
#include "bench/instruments/virtual_identity.hpp"
#include "tests/bench/scripted_instrument.hpp"
#include "tests/support/test_permit.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

namespace {

// What is asked of a pump that gives these answers, one after the other and then the last for ever; all else
// it obeys. An empty answer: it says nothing.
struct Asked {
    Seen outcomes;
    Seen changes;
    Seen heard;
    Seen told;  // with the changes
};

using Work = std::function<Task<void>(Clock&, Pump&, Seen&)>;

Asked ask_a_pump(std::vector<std::string> answers, Work work) {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    REQUIRE(made.ok());
    Asked asked;
    (*made)->on_link_change([&](LinkChange change, const std::string& what) {
        constexpr const char* names[] = {"lost",     "returned", "returned_unknown",
                                         "stranger", "noise",    "taken"};
        asked.changes.push_back(names[static_cast<int>(change)]);
        asked.told.push_back(what);
    });
    std::size_t next = 0;
    bench.answer_with([&](const std::string& command) -> std::string {
        if (command != "ID?") return "OK " + command + "\r\n";
        const std::string& answer = answers[std::min(next++, answers.size() - 1)];
        return answer.empty() ? "" : "ID " + answer + "\r\n";
    });
    bench.start(work(*bench.clock, **made, asked.outcomes));
    bench.clock->run();
    asked.heard = bench.commands;
    return asked;
}

Task<void> learn_flow_and_check(Clock&, Pump& pump, Seen& log) {
    const Result<std::string> identity = co_await pump.identify();
    log.push_back(identity ? *identity : std::string(name_of(identity.fault().code)));
    log.push_back(shown(co_await pump.set_flow(TestPermit::get(), 10)));
    log.push_back(shown(co_await pump.check_identity()));
    log.push_back(shown(co_await pump.set_flow(TestPermit::get(), 11)));
    log.push_back(shown(co_await pump.stop()));
}

}  // namespace

TEST_CASE("a pump one of whose answers was garbled on the way is stopped, asked again and known again") {
    const Asked asked = ask_a_pump({"PUMP 1", "PUMP 1", "PUMQ 1", "PUMP 1"}, learn_flow_and_check);
    CHECK(asked.outcomes == Seen{"PUMP 1", "done", "garbled_answer", "done", "done"});
    CHECK(asked.heard == Seen{"ID?", "ID?", "FLOW 10.000", "ID?", "STOP", "ID?", "FLOW 11.000", "STOP"});
    CHECK(asked.changes == Seen{"noise"});
    CHECK(asked.told.front() ==
          "answered \"PUMQ 1\" instead of \"PUMP 1\" when it was asked who it is, and as ever when asked "
          "again");
}

TEST_CASE("a pump whose first answer was garbled is known by the two that agree") {
    const Asked asked = ask_a_pump({"PUMQ 1", "PUMP 1"}, learn_flow_and_check);
    CHECK(asked.outcomes == Seen{"PUMP 1", "done", "done", "done", "done"});
    CHECK(asked.heard == Seen{"ID?", "ID?", "ID?", "FLOW 10.000", "ID?", "FLOW 11.000", "STOP"});
    CHECK(asked.changes == Seen{"noise"});
}

TEST_CASE("another pump on a link that was never lost is told to stop, before it is judged and ever after") {
    const Asked asked = ask_a_pump({"PUMP 1", "PUMP 1", "PUMP 2"}, learn_flow_and_check);
    CHECK(asked.outcomes == Seen{"PUMP 1", "done", "link_lost", "link_lost", "done"});
    CHECK(asked.heard == Seen{"ID?", "ID?", "FLOW 10.000", "ID?", "STOP", "ID?", "STOP"});
    CHECK(asked.changes == Seen{"stranger"});
    CHECK(asked.told.front() == "another instrument answers on its link: \"PUMP 2\" instead of \"PUMP 1\"");
}

TEST_CASE("a pump that never gives the same answer twice is neither known nor convicted") {
    std::vector<std::string> answers{"PUMP 1", "PUMP 1"};
    for (int k = 0; k < 20; ++k) answers.push_back("P" + std::to_string(k));
    SECTION("once it was known") {
        const Asked asked = ask_a_pump(answers, learn_flow_and_check);
        // No flow while nobody knows who is there.
        CHECK(asked.outcomes == Seen{"PUMP 1", "done", "garbled_answer", "garbled_answer", "done"});
        CHECK(asked.heard == Seen{"ID?", "ID?", "FLOW 10.000", "ID?", "STOP", "ID?", "ID?", "ID?", "STOP"});
        CHECK(asked.changes.empty());
    }
    SECTION("from the beginning") {
        answers.erase(answers.begin(), answers.begin() + 2);
        const Asked asked = ask_a_pump(answers, [](Clock&, Pump& pump, Seen& log) -> Task<void> {
            const Result<std::string> identity = co_await pump.identify();
            log.push_back(identity.fault().line());
        });
        CHECK(asked.heard == Seen{"ID?", "ID?", "ID?", "ID?"});
        REQUIRE(asked.outcomes.size() == 1);
        CHECK(asked.outcomes.front().find("differently each time it was asked who it is: \"P0\", \"P1\", ") !=
              std::string::npos);
    }
}

TEST_CASE("while a pump is in doubt no flow is sent, and somebody's command to stop is") {
    // After the odd answer it is silent.
    const Asked asked =
        ask_a_pump({"PUMP 1", "PUMP 1", "PUMQ 1", ""}, [](Clock& clock, Pump& pump, Seen& log) -> Task<void> {
            const Result<std::string> identity = co_await pump.identify();
            log.push_back(identity ? *identity : "unknown");
            const double from_s = clock.now_s();
            const auto later = [&]() -> Task<void> {
                co_await clock.sleep_until(from_s + 0.3);
                log.push_back("flow " + shown(co_await pump.set_flow(TestPermit::get(), 10)));
                log.push_back("stop " + shown(co_await pump.stop()));
            };
            const auto now = [&]() -> Task<void> {
                log.push_back("same " + shown(co_await pump.check_identity()));
            };
            using namespace asio::experimental::awaitable_operators;
            co_await (now() && later());
        });
    CHECK(asked.outcomes == Seen{"PUMP 1", "flow garbled_answer", "same interrupted", "stop done"});
    CHECK(asked.heard == Seen{"ID?", "ID?", "ID?", "STOP", "ID?", "STOP"});
}

TEST_CASE("what ends a message to an instrument is its profile's, and nothing ends a frame") {
    Bench bench;
    CHECK(message_ending(bench.profile("generic-pump-ascii")) == "\r");
    CHECK(message_ending(bench.profile("generic-pump-scpi")) == "\n");
    CHECK(message_ending(bench.profile("generic-pump-modbus")).empty());
}

TEST_CASE("who instruments say they are is compared whole, and what is shown is where it differs") {
    const std::string base = "MAKER " + std::string(60, 'X');
    const std::string one = base + " serial 1";
    const std::string two = base + " serial 2";
    const auto kept = identity_in(identity_remark("pump", one));
    REQUIRE(kept);
    CHECK(kept->first == "pump");
    CHECK(is_identity_in_quotes(one, kept->second));
    CHECK_FALSE(is_identity_in_quotes(two, kept->second));
    CHECK(instead_of_quoted(two, kept->second) == instead_of(two, one));
    CHECK(instead_of(two, one) ==
          "\"...XXXXXXXXXXXX serial 2\" instead of \"...XXXXXXXXXXXX serial 1\", from character 75 on");
    CHECK(instead_of("PUMP 2", "PUMP 1") == "\"PUMP 2\" instead of \"PUMP 1\"");
    // One is the other's beginning; a letter is never cut through.
    CHECK(instead_of(one.substr(0, 72), one) ==
          "\"...XXXXXXXXXXXXXX seria\" instead of \"...XXXXXXXXXXXXXX serial 1\", from character 73 on");
    const std::string umlauts = "Ä" + std::string(58, 'X');
    CHECK(instead_of(umlauts + "ö2", umlauts + "ü2") == "\"..." + std::string(20, 'X') +
                                                            "ö2\" instead of \"..." + std::string(20, 'X') +
                                                            "ü2\", from character 60 on");
    // A journal of an earlier version has the beginning alone.
    CHECK(is_identity_in_quotes(one, in_quotes(one)));
    CHECK(is_identity_in_quotes(two, in_quotes(one)));
    CHECK_FALSE(is_identity_in_quotes("MAKER Y", in_quotes(one)));
    // Control characters are escapes in a journal.
    const auto hidden = identity_in(identity_remark("pump", "A\tB \"C\""));
    REQUIRE(hidden);
    CHECK(is_identity_in_quotes("A\tB \"C\"", hidden->second));
}
