// What a run says of a vessel that leaks, and how near the flow is held to the set intensity.
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/virtual_run.hpp"

using namespace tipwright;

TEST_CASE("A vessel that leaks ends the run, and the fault says so") {
    test::VirtualRunInputs in;
    in.with_truth = false;
    in.faults.vessel_leaks_at_s = 1;
    in.faults.vessel_leak_mL_min = 3;
    const auto run = test::run_virtual(in);
    CHECK_FALSE(run.end.complete);
    REQUIRE(run.end.fault);
    CHECK(run.end.fault->code == FaultCode::water_behind);
    CHECK(run.end.fault->remedy.find("leak") != std::string::npos);
    CHECK(run.pumped_after_end_mL == Approx(0).margin(0.01));
}

TEST_CASE("A vessel may lose a quarter of the smallest U of a step, which nobody would see, and no more") {
    test::VirtualRunInputs in;
    in.with_truth = false;
    in.plan =
        test::plan_of("leak_test", "[[step]]\nintensity_mm_h = 240\nmin_tips = 20\ntime_limit_s = 300\n");
    const auto sound = test::run_virtual(in);
    REQUIRE(sound.evaluation);
    const auto& step = sound.evaluation->steps[0];
    const double harmless_mL_min = 0.25 * step.error_expanded.U / 100 * step.flow_mL_min->value;
    in.faults.vessel_leaks_at_s = 1;
    for (const double times : {0.3, 0.6, 1.5, 2.0, 3.0}) {
        in.faults.vessel_leak_mL_min = times * harmless_mL_min;
        const auto run = test::run_virtual(in);
        INFO(times << " times: " << (run.end.fault ? run.end.fault->line() : std::string("no fault")));
        CHECK(run.end.complete == (times < 1));
    }
}

TEST_CASE("Each step is measured within 2 % of its set intensity") {
    constexpr double tolerance_percent = 2;  // as the run promises
    for (std::uint64_t seed = 1; seed <= 6; ++seed) {
        test::VirtualRunInputs in;
        in.seed = seed;
        in.with_truth = false;
        const auto run = test::run_virtual(in);
        INFO("seed " << seed);
        REQUIRE(run.evaluation);
        for (const auto& step : run.evaluation->steps) {
            REQUIRE(step.reference_intensity_mm_h);
            const double set = step.observation.set_intensity_mm_h;
            const double off_percent = 100 * (step.reference_intensity_mm_h->value / set - 1);
            const double u_percent = 100 * step.reference_intensity_mm_h->u / set;
            CHECK(std::abs(off_percent) <= tolerance_percent + 2 * u_percent);
        }
    }
}
