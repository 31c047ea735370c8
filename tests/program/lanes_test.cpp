// Lanes side by side on one clock: what happens to one is nothing to the others, to the last byte of their
// journals.
#include <catch2/catch.hpp>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include <boost/asio/io_context.hpp>

#include "bench/program/run/drive.hpp"
#include "report/files/files.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::program;
namespace fs = std::filesystem;

namespace {

const fs::path templates = fs::path(tipwright::test::source_dir()) / "templates";

struct Lane {
    std::string gauge;
    bench::BenchFaults faults;
    std::uint64_t seed = 1;
};

struct Driven {
    std::vector<std::string> journals;
    std::vector<bench::RunEnd> ends;
    double ended_s = 0;  // bench time at the end of the last lane
};

Driven drive_lanes(const std::vector<Lane>& lanes) {
    const fs::path folder = tipwright::test::scratch_dir() / "lanes_test";
    fs::remove_all(folder);
    boost::asio::io_context context(1);
    const auto clock = bench::make_lockstep_clock(context);
    bench::Supervision supervision(context, {});
    std::vector<std::unique_ptr<LaneRun>> runs;
    std::vector<DrivenLane> driven;
    for (std::size_t k = 0; k < lanes.size(); ++k) {
        LaneOptions options;
        options.templates = templates;
        options.folder = folder / std::to_string(k);
        fs::create_directories(options.folder);
        options.seed = lanes[k].seed;
        options.started_at = "2026-11-02T08:00:00Z";
        options.durable = false;
        options.supervision = &supervision;
        options.faults = lanes[k].faults;
        auto given = load_descriptions({"virtual-bench", lanes[k].gauge, "three-point-check"}, templates);
        REQUIRE(given.ok());
        auto run = LaneRun::begin(context, *clock, std::move(*given), options);
        REQUIRE(run.ok());
        runs.push_back(std::move(*run));
        driven.push_back({*runs.back(), {}, {}});
    }
    drive(context, *clock, driven, supervision);
    Driven out;
    out.ended_s = clock->now_s();
    for (std::size_t k = 0; k < lanes.size(); ++k) {
        out.ends.push_back(runs[k]->end());
        runs[k].reset();
        out.journals.push_back(*read_file(folder / std::to_string(k) / journal_name));
    }
    fs::remove_all(folder);
    return out;
}

}  // namespace

TEST_CASE("faults of one lane leave the others as they are alone") {
    Lane sound{"bucket-200-twin", {}, 3};
    Lane other{"siphon-200", {}, 4};
    const std::string sound_alone = drive_lanes({sound}).journals[0];
    const std::string other_alone = drive_lanes({other}).journals[0];

    std::vector<Lane> lanes = {
        sound, {"bucket-150", {}, 5}, {"spoon-100", {}, 6}, {"magnet-spoon-160", {}, 7}, other};
    lanes[1].faults.link_lost_at_s = 500;
    lanes[1].faults.link_lost_role = "pump";
    lanes[2].faults.balance_garbles_at_s = 300;
    lanes[3].faults.pump_runs_on_at_s = 400;
    const Driven driven = drive_lanes(lanes);
    CHECK(driven.ends[0].complete);
    CHECK(driven.ends[4].complete);
    CHECK(driven.journals[0] == sound_alone);
    CHECK(driven.journals[4] == other_alone);
    const FaultCode codes[] = {FaultCode::link_lost, FaultCode::garbled_answer, FaultCode::water_behind};
    for (const std::size_t k : {1, 2, 3}) {
        const bench::RunEnd& end = driven.ends[k];
        INFO(k << ": " << (end.fault ? end.fault->line() : "no fault"));
        CHECK_FALSE(end.complete);
        REQUIRE(end.fault);
        CHECK(end.fault->code == codes[k - 1]);
        CHECK(driven.journals[k].find("complete=false") != std::string::npos);
        // In the middle of its own run, while the others' water went on.
        CHECK(end.noticed_s > 300);
        CHECK(end.noticed_s < driven.ended_s);
    }
}
