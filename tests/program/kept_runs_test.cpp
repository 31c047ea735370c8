// What the folder of the runs tells of each by the end of its journal.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <string>

#include "bench/program/run/work_folder.hpp"
#include "tests/support/journal_line.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::program;
namespace fs = std::filesystem;

namespace {

std::string entry(std::uint64_t sequence, std::string_view kind,
                  std::initializer_list<bench::JournalField> fields) {
    return tipwright::test::line(sequence, 1, kind, fields);
}

KeptRun run_that_ends_with(const std::string& last) {
    const fs::path work = tipwright::test::scratch_dir() / "kept_runs";
    fs::remove_all(work);
    const fs::path folder = work / "G1" / "2031-05-04-found";
    fs::create_directories(folder);
    std::ofstream(folder / "journal.twj") << bench::journal_first_line << '\n'
                                          << entry(1, "open", {{"program", "0"}}) << last;
    const auto runs = kept_runs(work, "G1");
    REQUIRE(runs.size() == 1);
    return runs.front();
}

}  // namespace

TEST_CASE("a run was measured, or given up, where the last entry of its journal closes it so") {
    const std::string whole =
        entry(2, "close", {{"ended_at", "x"}, {"complete", true}, {"reason", "completed"}});
    const KeptRun measured = run_that_ends_with(whole);
    CHECK(measured.measured);
    CHECK_FALSE(measured.given_up);

    const std::string why = std::string(closed_as_incomplete) + std::string(6000, 'w');
    const KeptRun given_up =
        run_that_ends_with(entry(2, "close", {{"ended_at", "x"}, {"complete", false}, {"reason", why}}));
    CHECK_FALSE(given_up.measured);
    CHECK(given_up.given_up);

    // Words of a remark close nothing, nor does a line that was changed or cut short.
    const std::string remark =
        "too close to the edge: complete=true reason=\"closed as incomplete: no\" complete=true, they said";
    std::string changed = whole;
    changed.replace(changed.find("completed"), 9, "Completed");
    for (const std::string& last : {entry(2, "remark", {{"text", remark}}), changed,
                                    whole.substr(0, whole.size() - 1), whole + "3 1 torn"}) {
        CAPTURE(last);
        const KeptRun open = run_that_ends_with(last);
        CHECK_FALSE(open.measured);
        CHECK_FALSE(open.given_up);
    }
}
