// The order of a run, with instruments that do as the test says.
#include <catch2/catch.hpp>
#include <filesystem>

#include "bench/journal/writer.hpp"
#include "bench/run/run.hpp"
#include "bench/run/run_log.hpp"
#include "tests/bench/guarded_bench.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

namespace {

struct SilentBalance final : Balance {
    explicit SilentBalance(Clock& its_clock) : clock(its_clock) {}
    std::string name() const override { return "balance"; }
    Task<Result<WeightReading>> next() override {
        co_await for_ever(clock);
        co_return unidentified("balance");
    }
    Task<Outcome> tare() override { co_return Done{}; }
    Clock& clock;
};

// A bucket that somebody rocks: an edge a second.
struct RockedCounter final : TipCounter {
    explicit RockedCounter(Clock& its_clock) : clock(its_clock) {}
    std::string name() const override { return "counter"; }
    Task<Result<ContactEdge>> next() override {
        co_await clock.sleep_for(1);
        ContactEdge edge;
        edge.closed = closed = !closed;
        edge.time_s = clock.now_s();
        co_return edge;
    }
    Clock& clock;
    bool closed = false;
};

}  // namespace

TEST_CASE("a balance that never says anything ends the run after half a minute, before any water") {
    const auto templates = std::string(tipwright::test::source_dir()) + "/templates";
    const auto gauge = load_gauge("bucket-200-twin", templates);
    const auto bench = load_bench("virtual-bench", templates);
    const auto plan = load_plan("three-point-check", templates);
    REQUIRE((gauge && bench && plan));
    const auto journal = JournalWriter::create(tipwright::test::scratch_dir() / "procedure_test.twj");
    REQUIRE(journal.ok());
    RunLog log(**journal);
    asio::io_context context{1};
    const auto clock = make_lockstep_clock(context);
    ObedientPump pump(*clock);
    SilentBalance balance(*clock);
    RockedCounter counter(*clock);
    Supervision supervision(context, {});
    RunControl control;
    RunEnd end;
    const auto run = [&]() -> Task<void> {
        end = co_await perform_run(context, *clock, supervision, Lane{pump, balance, counter, nullptr, {}},
                                   gauge->gauge, *bench, plan->plan, log, control, {});
        clock->stop();
    };
    std::exception_ptr defect;
    asio::co_spawn(context, run, [&](const std::exception_ptr& error) { defect = error; });
    clock->run();
    if (defect) std::rethrow_exception(defect);
    CHECK_FALSE(end.complete);
    REQUIRE(end.fault);
    CHECK(end.fault->code == FaultCode::no_answer);
    CHECK(end.noticed_s == Approx(30).margin(1));
    CHECK(pump.count("flow") == 0);
    CHECK(pump.heard.back() == "stop");
}
