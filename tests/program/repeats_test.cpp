// Steps run several times on the virtual bench: from the plan's words to the combined result.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>

#include "bench/run/recovery.hpp"
#include "calib/rate/repeats.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/virtual_run.hpp"

using namespace tipwright;
namespace fs = std::filesystem;
using tipwright::test::run_virtual;

namespace {

// Step 1 three times by the plan, step 2 four times by its own word.
std::string plan_file(const std::string& name) {
    const fs::path file = tipwright::test::scratch_dir() / ("repeats_" + name + ".toml");
    std::ofstream(file) << "title = \"Repeats\"\ntarget_U_percent = 1\nrepeats = 3\n"
                           "repeat_rule = \"discard-extremes-mean\"\n"
                           "[[step]]\nintensity_mm_h = 60\nmin_tips = 10\ntime_limit_s = 900\n"
                           "[[step]]\nintensity_mm_h = 150\nmin_tips = 20\ntime_limit_s = 900\nrepeats = 4\n";
    return file.string();
}

}  // namespace

TEST_CASE("a plan's repeats are run, each settled anew, and combined") {
    test::VirtualRunInputs in;
    in.plan = plan_file("whole");
    const auto run = run_virtual(in);
    REQUIRE(run.end.complete);
    REQUIRE(run.evaluation);
    REQUIRE(run.replayed->observations.size() == 7);
    const auto& steps = run.evaluation->steps;
    REQUIRE(steps.size() == 2);
    CHECK(steps[0].repeats.size() == 3);
    CHECK(steps[1].repeats.size() == 4);
    for (std::size_t i = 0; i < steps.size(); ++i) {
        CHECK(calib::repeats_kept(steps[i]) == static_cast<int>(steps[i].repeats.size()) - 2);
        for (std::size_t k = 1; k < steps[i].repeats.size(); ++k) {
            const auto& before = steps[i].repeats[k - 1].observation;
            // The settle between two runs has let tips and time pass.
            CHECK(steps[i].repeats[k].observation.started_s > before.started_s + *before.duration_s + 20);
        }
        CHECK(std::abs(steps[i].error_percent.value - run.truth[i].error_percent) <=
              steps[i].error_expanded.U);
    }
    CHECK(run.evaluation->model);
}

TEST_CASE("a run stopped between the repeats of a step goes on with that step's first") {
    test::VirtualRunInputs in;
    in.plan = plan_file("stopped");
    in.journal = tipwright::test::scratch_dir() / "repeats_stopped.twj";
    in.watch = [](bench::RunControl& control, const bench::Progress& progress) {
        if (progress.step == 2 && progress.repeat == 3)
            control.request_stop({FaultCode::interrupted, "stopped by the test", "run", ""});
    };
    const auto run = run_virtual(in);
    CHECK_FALSE(run.end.complete);
    CHECK(run.end.steps_done == 1);
    const auto open = bench::open_run(in.journal);
    REQUIRE(open);
    CHECK(open->run.observations.size() == 5);
    CHECK(open->first_step == 2);
    fs::remove(in.journal);
}
