// The runs of a folder: which are followed, which make room for others, and that one that made room comes
// back.
#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>

#include "bench/journal/append_file.hpp"
#include "bench/page/live/work_folder.hpp"
#include "tests/support/journal_line.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::page;
using tipwright::test::line;
namespace fs = std::filesystem;

namespace {

const fs::file_time_type a_day = fs::file_time_type::clock::now() - std::chrono::hours(48);

// Runs "a00", "a01", ... whose journals were written a minute apart, the last first.
class Runs {
public:
    explicit Runs(const std::string& name) : root_(tipwright::test::scratch_dir() / name) {
        fs::remove_all(root_);
        fs::create_directories(root_);
    }
    const fs::path& root() const { return root_; }
    fs::path journal(const std::string& id) const { return root_ / id / journal_name; }

    std::string add(std::size_t number) {
        const std::string digits = std::to_string(number);
        const std::string id = "a" + std::string(2 - std::min<std::size_t>(2, digits.size()), '0') + digits;
        // Whole when it comes.
        const fs::path folder = root_.string() + "_comes";
        fs::create_directories(folder);
        std::ofstream(folder / journal_name)
            << bench::journal_first_line << '\n'
            << line(1, 0, "open", {{"program", "0"}, {"started_at", "x"}, {"seed", "1"}});
        fs::last_write_time(folder / journal_name, a_day - std::chrono::minutes(number));
        fs::rename(folder, root_ / id);
        return id;
    }
    void close(const std::string& id) const {
        const auto written = fs::last_write_time(journal(id));
        std::ofstream(journal(id), std::ios::app)
            << line(2, 1, "close", {{"ended_at", "x"}, {"complete", false}, {"reason", ""}});
        fs::last_write_time(journal(id), written);
    }

private:
    fs::path root_;
};

struct Watched {
    explicit Watched(const Runs& runs) {
        auto opened = WorkFolder::open(context, runs.root(), [](bool) {});
        REQUIRE(opened.ok());
        folder = std::move(*opened);
    }
    bool follows(const std::string& id) {
        const auto all = folder->runs();
        return std::any_of(all.begin(), all.end(), [&](const RunFacts& run) { return run.id == id; });
    }
    // Until that is so; what the kernel tells comes at once.
    template <class Said>
    bool comes(Said said) {
        const auto limit = std::chrono::steady_clock::now() + std::chrono::seconds(10);
        while (!said() && std::chrono::steady_clock::now() < limit)
            context.run_one_for(std::chrono::milliseconds(100));
        return said();
    }
    boost::asio::io_context context{1};
    std::unique_ptr<WorkFolder> folder;
};

}  // namespace

TEST_CASE("of the runs on the page the one that was written first makes room, dated by its journal",
          "[page]") {
    Runs runs("makes_room");
    for (std::size_t k = 0; k < most_followed; ++k) runs.add(k);
    Watched page(runs);
    REQUIRE(page.folder->runs().size() == most_followed);
    CHECK(page.folder->earlier().empty());
    const std::string oldest = "a" + std::to_string(most_followed - 1);

    SECTION("none has ended: of those that nobody writes, the oldest") {
        // That one is being written.
        auto written = bench::hold_append_file(runs.journal(oldest));
        REQUIRE(written.ok());
        const std::string next = "a" + std::to_string(most_followed - 2);
        runs.add(most_followed);
        page.folder->look_again();
        CHECK(page.folder->runs().size() == most_followed);
        REQUIRE(page.folder->earlier().size() == 1);
        CHECK(page.folder->earlier().front().id == next);
    }
    SECTION("one that has ended goes before those that have not") {
        runs.close("a20");
        REQUIRE(
            page.comes([&] { return page.folder->find("a20")->facts(false).stand == Stand::broken_off; }));
        runs.add(most_followed);
        page.folder->look_again();
        REQUIRE(page.folder->earlier().size() == 1);
        CHECK(page.folder->earlier().front().id == "a20");
        const auto day = std::chrono::floor<std::chrono::days>(
            std::chrono::file_clock::to_sys(a_day - std::chrono::minutes(20)));
        const std::chrono::year_month_day date(day);
        CHECK(page.folder->earlier().front().changed_at.substr(0, 4) == std::to_string(int(date.year())));
        CHECK(page.folder->earlier().front().changed_at.substr(8, 2) ==
              (unsigned(date.day()) < 10 ? "0" : "") + std::to_string(unsigned(date.day())));
    }
}

TEST_CASE("a run that made room for others is followed again when somebody goes on with it", "[page]") {
    Runs runs("comes_back");
    for (std::size_t k = 0; k <= most_followed; ++k) runs.add(k);
    Watched page(runs);
    REQUIRE(page.folder->earlier().size() == 1);
    const std::string gone = page.folder->earlier().front().id;
    CHECK_FALSE(page.follows(gone));
    auto written = bench::hold_append_file(runs.journal(gone));
    REQUIRE(written.ok());
    runs.add(most_followed + 1);  // whoever comes has all be looked at
    CHECK(page.comes([&] { return page.follows(gone); }));
}
