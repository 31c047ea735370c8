// The guard of a pump: work that waits for a silent instrument is abandoned the moment no water may flow any
// more; the balance must confirm that the water stands; another bench's pump is told nothing but to stop. In
// lockstep, with instruments that do as the test says.
#include <catch2/catch.hpp>
#include <functional>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>

#include "bench/links/link.hpp"
#include "tests/bench/guarded_bench.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

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

TEST_CASE(
    "a pump whose answer is garbled is asked again who it is, three times at most, a silent one is not") {
    struct Answers {
        int noisy;
        const char* identity;
        bool stopped;
        int asked;
    };
    const Answers answers = GENERATE(Answers{0, "A PUMP", true, 1}, Answers{2, "A PUMP", true, 3},
                                     Answers{3, "A PUMP", false, 3}, Answers{0, no_identity, false, 1});
    CAPTURE(answers.noisy, answers.identity);
    Guarded bench({}, 60);
    Outcome stopped = Done{};
    int asked = 0;
    bench.run([&]() -> Task<void> {
        const Outcome set = co_await bench.flow(60);
        if (!set) co_return;
        const int before = bench.pump.count("who");
        bench.pump.noisy_answers = answers.noisy;
        bench.pump.identity = answers.identity;
        stopped = co_await bench.guard->stop();
        asked = bench.pump.count("who") - before;
    });
    CHECK(stopped.ok() == answers.stopped);
    CHECK(asked == answers.asked);
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

TEST_CASE("another program on an instrument's link ends the work, and the pump is told to stop as ever") {
    Guarded bench({}, 60);
    bench.bench.vessel_capacity_g = 1e6;
    Outcome outcome = Done{};
    Outcome stopped = Done{};
    bench.run([&]() -> Task<void> {
        outcome = co_await bench.guard->carry_out([&]() -> Task<Outcome> {
            const Outcome set = co_await bench.flow(60);
            if (!set) co_return set;
            bench.pump.listener(LinkChange::taken, "another program uses the link by now");
            co_await for_ever(*bench.clock);
            co_return Done{};
        });
        stopped = co_await bench.guard->make_safe();
    });
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.fault().code == FaultCode::link_lost);
    CHECK(outcome.fault().where == "pump");
    CHECK(outcome.fault().what == "another program uses the link by now");
    CHECK(outcome.fault().remedy.starts_with("end that program"));
    CHECK(stopped.ok());
    CHECK(bench.told.empty());
    CHECK(bench.pump.flow_mL_min == 0);
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

TEST_CASE("a link that takes nothing holds up the command to stop by a tenth of a second, no more") {
    struct Stuck final : Link {
        explicit Stuck(Clock& its_clock) : clock(its_clock) {}
        std::string name() const override { return "stuck"; }
        Task<Result<std::size_t>> read_some(std::span<std::byte>) override {
            co_await for_ever(clock);
            co_return 0;
        }
        Task<Outcome> write(SendRight, std::span<const std::byte>) override {
            if (taken++ > 0) co_await for_ever(clock);
            co_return Done{};
        }
        void close() override {}
        Clock& clock;
        int taken = 0;
    };
    Guarded bench({}, 60);
    Stuck link(*bench.clock);
    double took_s = 0;
    bench.run([&]() -> Task<void> {
        auto permit = co_await bench.guard->take();
        if (!permit) co_return;
        const std::string half = "FLOW 6";
        static_cast<void>(
            co_await bench.guard->let_send(*permit, link, std::as_bytes(std::span(half)), "\r"));
        const double from_s = bench.clock->now_s();
        static_cast<void>(co_await bench.guard->make_safe());
        took_s = bench.clock->now_s() - from_s;
    });
    CHECK(link.taken == 2);
    CHECK(bench.pump.count("stop") > 1);
    CHECK(took_s == Approx(0.1));
}

TEST_CASE(
    "nothing of ours goes into the middle of a person's message, and the command to stop behind its end") {
    Guarded bench({}, 60);
    bench.bench.vessel_capacity_g = 1e6;
    const auto ends = make_lockstep_pair(bench.context, "by hand");
    std::vector<std::string> heard;
    int asked_meanwhile = -1;
    const auto listen = [&]() -> Task<void> {
        for (;;) {
            std::byte buffer[64];
            const Result<std::size_t> got = co_await ends.second->read_some(buffer);
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
        static_cast<void>(co_await bench.guard->let_send(*permit, *ends.first, bytes("FLOW 60\r"), "\r"));
        co_await bench.clock->sleep_for(2);
        static_cast<void>(co_await bench.guard->let_send(*permit, *ends.first, bytes("FLOW 6"), "\r"));
        const int asked = bench.pump.count("same");
        co_await bench.clock->sleep_for(10);
        asked_meanwhile = bench.pump.count("same") - asked;
        CHECK(asked > 2);
        static_cast<void>(co_await bench.guard->make_safe());
    });
    // Who reads at the far end comes to its end before it does.
    ends.second->close();
    bench.clock->run();
    CHECK(asked_meanwhile == 0);
    CHECK(heard == std::vector<std::string>{"FLOW 60\r", "stops so far: 1", "FLOW 6", "stops so far: 1", "\r",
                                            "stops so far: 1"});
    CHECK(bench.pump.heard.back() != "flow");
}
