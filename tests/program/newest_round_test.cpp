// Which runs make a certificate together: what was found belongs to what was left soon after, not to a later
// year's.
#include <catch2/catch.hpp>

#include <fstream>

#include "bench/program/page/run_ahead.hpp"
#include "bench/program/run/work_folder.hpp"
#include "report/record/record_json.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/report/scratch_folder.hpp"

using namespace tipwright;
using namespace tipwright::program;

namespace {

KeptRun run_of(const char* day, bool as_left) {
    KeptRun run;
    run.folder = std::string(day) + (as_left ? "-left" : "-found");
    run.day = day;
    run.as_left = as_left;
    run.complete = true;
    return run;
}

}  // namespace

TEST_CASE("newest round: the last as found, and what was left after it") {
    const Round round = newest_round({run_of("2031-05-04", false), run_of("2031-05-04", true),
                                      run_of("2031-07-01", false), run_of("2031-12-20", true)});
    CHECK(round.found == "2031-07-01-found");
    CHECK(round.left == "2031-12-20-left");
}

TEST_CASE("newest round: what was found in an earlier year is another certificate's") {
    const Round round = newest_round({run_of("2030-05-04", false), run_of("2031-05-04", true)});
    CHECK(round.found.empty());
    CHECK(round.left == "2031-05-04-left");
}

// A virtual bench at twenty times real time ends its run in the afternoon of a wall clock that shows noon.
TEST_CASE("a virtual run of what was adjusted begins after what was found has ended") {
    const test::ScratchFolder folder;
    const std::filesystem::path run = std::filesystem::path(folder / "4711") / "2031-05-04-found";
    std::filesystem::create_directories(run);
    auto record = test::sample_record();
    record.ended_at = "2031-05-04T15:04:00Z";
    std::ofstream(run / "record.json") << report::record_to_json(record);
    std::ofstream(run / "journal.twj") << "a journal";
    CHECK(virtual_start(folder / "", "4711", "2031-05-04T12:15:00Z") == "2031-05-04T15:04:00Z");
    CHECK(virtual_start(folder / "", "4711", "2031-05-04T16:00:00Z") == "2031-05-04T16:00:00Z");
    CHECK(virtual_start(folder / "", "4712", "2031-05-04T12:15:00Z") == "2031-05-04T12:15:00Z");
}
