// Whole runs on the virtual bench in lockstep: instruments, run, journal, replay, evaluation.
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <vector>

#include "report/files/files.hpp"
#include "tests/support/shipped_kinds.hpp"
#include "tests/support/virtual_run.hpp"

using namespace tipwright;
using tipwright::test::run_virtual;
using tipwright::test::VirtualRunInputs;

namespace {

VirtualRunInputs with_faults(const bench::BenchFaults& faults, const std::string& gauge = "bucket-200-twin") {
    VirtualRunInputs in;
    in.gauge = gauge;
    in.faults = faults;
    in.with_truth = false;
    return in;
}

// However it ended: the pump stands, the journal is closed and says why, and there is no complete record.
void check_stopped_by(const test::VirtualRun& run, FaultCode code) {
    INFO((run.end.fault ? run.end.fault->line() : std::string("no fault")));
    CHECK_FALSE(run.end.complete);
    REQUIRE(run.end.fault);
    CHECK(run.end.fault->code == code);
    CHECK_FALSE(run.end.fault->where.empty());
    CHECK(run.pumped_after_end_mL == Approx(0).margin(0.01));
    REQUIRE(run.replayed);
    CHECK_FALSE(run.replayed->complete);
    CHECK_FALSE(run.replayed->ended_at.empty());
    CHECK(run.replayed->end_reason == run.end.fault->line());
}

}  // namespace

TEST_CASE("the wetting and settling of a gauge with two contacts is told for each of them") {
    VirtualRunInputs in;
    in.with_truth = false;
    std::map<bench::RunState, std::vector<int>> last;
    bool even = true;
    in.watch = [&](bench::RunControl&, const bench::Progress& progress) {
        last[progress.state] = progress.contact_tips;
        for (const int seen : progress.contact_tips) even = even && progress.tips - seen <= 1;
    };
    REQUIRE(run_virtual(in).end.complete);
    CHECK(even);
    for (const auto state : {bench::RunState::wetting, bench::RunState::settling}) {
        REQUIRE(last[state].size() == 2);
        CHECK(last[state][0] > 2);
        CHECK(last[state][1] > 2);
    }
    CHECK(last[bench::RunState::collecting].empty());
    in.gauge = "bucket-150";
    last.clear();
    REQUIRE(run_virtual(in).end.complete);
    CHECK(last[bench::RunState::settling].empty());
}

TEST_CASE("every gauge kind goes through a plan, and its truth lies within the stated interval") {
    const auto kinds = test::shipped_kinds();
    REQUIRE(kinds.size() >= 5);
    for (const std::string& kind : kinds) {
        VirtualRunInputs in;
        in.gauge = kind;
        in.seed = 3;
        const auto run = run_virtual(in);
        INFO(kind << ": " << (run.end.fault ? run.end.fault->line() : run.fault));
        REQUIRE(run.end.complete);
        REQUIRE(run.evaluation);
        CHECK(run.end.stop_confirmed);
        CHECK(run.pumped_after_end_mL == Approx(0).margin(0.01));
        // A gauge of one compartment returns to the first rate.
        REQUIRE(run.evaluation->steps.size() == (run.replayed->gauge.gauge.compartments == 1 ? 4 : 3));
        for (std::size_t k = 0; k < run.evaluation->steps.size(); ++k) {
            const auto& step = run.evaluation->steps[k];
            // Three times U: this is no coverage study (see tests/figures), only a guard against blunders.
            CHECK(std::abs(step.error_percent.value - run.truth[k].error_percent) <
                  3 * step.error_expanded.U);
            const auto& limits = run.replayed->plan.plan.steps[k];
            CHECK(step.observation.tips >= limits.min_tips);
            if (step.observation.ended == calib::CollectEnd::target_reached) {
                CHECK(step.error_expanded.U <= run.replayed->plan.plan.target_U_percent);
            }
            // Flow held within 2 % of the set intensity, beyond what the weighing cannot tell.
            const double off = step.reference_intensity_mm_h->value / step.observation.set_intensity_mm_h - 1;
            CHECK(std::abs(off) <
                  0.02 + 2 * step.reference_intensity_mm_h->u / step.reference_intensity_mm_h->value);
            for (const int seen : step.observation.contact_counts) CHECK(seen == step.observation.tips);
        }
    }
}

TEST_CASE("the same seed gives the same journal, another seed another") {
    const auto bytes_of = [](std::uint64_t seed, const char* name) {
        VirtualRunInputs in;
        in.seed = seed;
        in.with_truth = false;
        in.journal = std::filesystem::temp_directory_path() / name;
        REQUIRE(run_virtual(in).end.complete);
        const auto bytes = read_file(in.journal);
        std::filesystem::remove(in.journal);
        REQUIRE(bytes.ok());
        return *bytes;
    };
    const std::string first = bytes_of(5, "tipwright-seed-a.twj");
    CHECK(first == bytes_of(5, "tipwright-seed-b.twj"));
    CHECK(first != bytes_of(6, "tipwright-seed-c.twj"));
}

TEST_CASE("a pump that acknowledges but does not turn") {
    bench::BenchFaults faults;
    SECTION("from the start") {
        faults.pump_stalls_at_s = 0;
    }
    SECTION("in the middle of a step") {
        faults.pump_stalls_at_s = 900;
    }
    check_stopped_by(run_virtual(with_faults(faults)), FaultCode::pump_not_turning);
}

TEST_CASE("an empty reservoir") {
    bench::BenchFaults faults;
    faults.reservoir_empties_at_s = 700;
    check_stopped_by(run_virtual(with_faults(faults)), FaultCode::pump_not_turning);
}

TEST_CASE("a counter that goes silent") {
    bench::BenchFaults faults;
    faults.counter_silent_at_s = 800;
    check_stopped_by(run_virtual(with_faults(faults)), FaultCode::counter_silent);
}

TEST_CASE("a balance that answers garbage") {
    bench::BenchFaults faults;
    faults.balance_garbles_at_s = 800;
    check_stopped_by(run_virtual(with_faults(faults)), FaultCode::garbled_answer);
}

TEST_CASE("an overloaded balance") {
    bench::BenchFaults faults;
    faults.balance_overload_at_s = 800;
    check_stopped_by(run_virtual(with_faults(faults)), FaultCode::overload);
}

TEST_CASE("a lost link, of each instrument") {
    for (const std::string role : {"balance", "counter", "pump"}) {
        bench::BenchFaults faults;
        faults.link_lost_at_s = 800;
        faults.link_lost_role = role;
        const auto run = run_virtual(with_faults(faults));
        INFO(role << ": " << (run.end.fault ? run.end.fault->line() : std::string("no fault")));
        CHECK_FALSE(run.end.complete);
        REQUIRE(run.end.fault);
        CHECK(run.end.fault->where.find(role) != std::string::npos);
        if (role == "pump") {
            // Nothing can reach the pump: the operator is told, and the record says so.
            CHECK_FALSE(run.end.stop_confirmed);
        } else {
            CHECK(run.pumped_after_end_mL == Approx(0).margin(0.01));
        }
    }
}

TEST_CASE("a blocked funnel is named, not averaged away") {
    bench::BenchFaults faults;
    faults.funnel_blocks_at_s = 900;
    const auto run = run_virtual(with_faults(faults));
    INFO((run.end.fault ? run.end.fault->line() : std::string("no fault")));
    CHECK_FALSE(run.end.complete);
    REQUIRE(run.end.fault);
    const bool named = run.end.fault->code == FaultCode::water_behind ||
                       run.end.fault->code == FaultCode::pump_not_turning ||
                       run.end.fault->code == FaultCode::flow_not_held;
    CHECK(named);
    CHECK(run.pumped_after_end_mL == Approx(0).margin(0.01));
}

TEST_CASE("the operator's stop ends the run with the pump off") {
    VirtualRunInputs in;
    in.with_truth = false;
    in.watch = [](bench::RunControl& control, const bench::Progress& progress) {
        if (progress.step == 2 && progress.tips > 3) {
            control.request_stop({FaultCode::interrupted, "stopped by the operator", "run", ""});
        }
    };
    const auto run = run_virtual(in);
    check_stopped_by(run, FaultCode::interrupted);
    CHECK(run.end.stop_confirmed);
    CHECK(run.end.steps_done == 1);
    // The finished step is kept.
    REQUIRE(run.evaluation);
    CHECK(run.evaluation->steps.size() == 1);
}

TEST_CASE(
    "a run that goes on keeps the steps before the one it goes on with, and is not complete until closed "
    "again") {
    VirtualRunInputs in;
    in.with_truth = false;
    in.journal = tipwright::test::scratch_dir() / "run_test_goes_on.twj";
    in.watch = [](bench::RunControl& control, const bench::Progress& progress) {
        if (progress.step == 2 && progress.tips > 3)
            control.request_stop({FaultCode::interrupted, "stopped by the operator", "run", ""});
    };
    run_virtual(in);
    const auto resumed_with = [&](int step) {
        bench::Replay replay;
        const auto summary = bench::read_journal(
            in.journal, [&](const bench::JournalEntry& entry) { return replay.take(entry); });
        REQUIRE(summary.ok());
        const std::string from_step = std::to_string(step);
        bench::JournalEntry entry;
        entry.kind = "continue";
        entry.fields = {
            {"from_step", from_step}, {"continued_at", "2026-11-02T10:10:00Z"}, {"torn_bytes", "0"}};
        const Outcome taken = replay.take(entry);
        return taken ? Result<bench::ReplayedRun>(replay.finish()) : taken.fault();
    };
    const auto run = resumed_with(2);
    INFO((run ? std::string() : run.fault().line()));
    REQUIRE(run.ok());
    CHECK(run->observations.size() == 1);
    CHECK_FALSE(run->complete);
    CHECK(run->remarks.back().find("the steps before it were kept") != std::string::npos);
    // What was measured whole is not measured again under the same name.
    CHECK(resumed_with(1).fault().code == FaultCode::damaged);
    std::filesystem::remove(in.journal);
}

TEST_CASE("a step whose time is over before two tips came ends the run and says what to change") {
    VirtualRunInputs in;
    in.with_truth = false;
    in.plan = tipwright::test::plan_of("run_test_short",
                                       "[[step]]\nintensity_mm_h = 20\nmin_tips = 10\ntime_limit_s = 20\n");
    const auto run = run_virtual(in);
    REQUIRE(run.end.fault);
    CHECK(run.end.fault->code == FaultCode::time_limit);
    CHECK(run.end.fault->where == "step 1");
    CHECK(run.end.steps_done == 0);
    CHECK(run.pumped_after_end_mL == Approx(0).margin(0.01));
}

TEST_CASE("what a step measured is told once it measured something, and only then") {
    VirtualRunInputs in;
    in.with_truth = false;
    int before = 0, after = 0;
    in.watch = [&](bench::RunControl&, const bench::Progress& progress) {
        if (progress.state != bench::RunState::collecting || progress.step_finished) return;
        // From the first tip on which it opened to a later one: of no interval nothing is known.
        if (progress.tips < 1) {
            ++before;
            CHECK_FALSE(progress.error_percent);
            CHECK_FALSE(progress.volume_per_tip_mL);
        }
        after += progress.error_percent ? 1 : 0;
    };
    REQUIRE(run_virtual(in).end.complete);
    CHECK(before > 0);
    CHECK(after > 0);
}

TEST_CASE("a pump that runs on after it was told to stop is noticed by the balance") {
    bench::BenchFaults faults;
    faults.pump_runs_on_at_s = 900;
    VirtualRunInputs in = with_faults(faults);
    bool told = false;
    in.watch = [](bench::RunControl& control, const bench::Progress& progress) {
        if (progress.time_s > 950)
            control.request_stop({FaultCode::interrupted, "stopped by the operator", "run", ""});
    };
    const auto run = run_virtual(in);
    CHECK_FALSE(run.end.complete);
    CHECK_FALSE(run.end.stop_confirmed);
    for (const auto& remark : run.replayed->remarks)
        told = told || remark.find("PULL THE PUMP'S PLUG") != std::string::npos;
    CHECK(told);
}

TEST_CASE("the vessel is never overfilled") {
    VirtualRunInputs in;
    in.gauge = "bucket-200-twin";
    in.plan = "extended-500";
    in.with_truth = false;
    double most_g = 0;
    in.watch = [&](bench::RunControl&, const bench::Progress& progress) {
        most_g = std::max(most_g, progress.vessel_g);
    };
    const auto run = run_virtual(in);
    INFO((run.end.fault ? run.end.fault->line() : std::string("no fault")));
    REQUIRE(run.end.complete);
    CHECK(most_g > 0);
    CHECK(most_g <= run.replayed->bench.vessel_capacity_g);
}
