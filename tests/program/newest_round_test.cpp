// Which runs make a certificate together: what was found belongs to what was left soon after, not to a later
// year's.
#include <catch2/catch.hpp>

#include "bench/program/run/work_folder.hpp"

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
