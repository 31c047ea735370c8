#include <signal.h>
#include <sys/resource.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "report/register/before_migration.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

std::vector<Migration> with_one_more() {
    std::vector<Migration> out = migrations();
    Migration next;
    next.version = out.back().version + 1;
    next.title = "colours";
    next.tables = {"ALTER TABLE gauges ADD COLUMN colour $text NOT NULL DEFAULT ''"};
    out.push_back(next);
    return out;
}

std::vector<std::string> copies_in(const std::string& location) {
    std::vector<std::string> out;
    for (const auto& entry : std::filesystem::directory_iterator(location))
        if (entry.path().filename().string().find(".before-") != std::string::npos)
            out.push_back(entry.path().string());
    return out;
}

// While it lives a file grows to so many bytes, as on a disk that is full.
class LittleRoom {
public:
    explicit LittleRoom(rlim_t bytes) : handler_(::signal(SIGXFSZ, SIG_IGN)) {
        ::getrlimit(RLIMIT_FSIZE, &before_);
        rlimit little = before_;
        little.rlim_cur = bytes;
        ::setrlimit(RLIMIT_FSIZE, &little);
    }
    ~LittleRoom() {
        ::setrlimit(RLIMIT_FSIZE, &before_);
        ::signal(SIGXFSZ, handler_);
    }
    LittleRoom(const LittleRoom&) = delete;
    LittleRoom& operator=(const LittleRoom&) = delete;

private:
    rlimit before_{};
    void (*handler_)(int);
};

}  // namespace

TEST_CASE("register: of a copy before a migration that failed or was interrupted nothing stays") {
    const ScratchFolder folder;
    const std::string location = OnSqlite::location(folder);
    { Register reg = got(Register::open(location, "2026-03-05T09:00:00Z", true)); }
    const std::vector<Migration> later = with_one_more();
    const auto raw = OnSqlite::raw(location);
    {
        const LittleRoom room(16384);
        CHECK_THROWS_AS(bring_up_to_date(*raw, location, later, "2036-11-28T12:00:00Z"), Stop);
    }
    CHECK(copies_in(location).empty());
    CHECK(schema_version(*raw) == migrations().back().version);

    const std::string interrupted = location + "/register.sqlite.before-4-2036-11-28T110000Z.new";
    std::ofstream(interrupted) << "half of a copy";
    std::ofstream(interrupted + "-journal") << "and what was written beside it";
    bring_up_to_date(*raw, location, later, "2036-11-28T12:00:01Z");
    CHECK(copies_in(location) ==
          std::vector<std::string>{location + "/register.sqlite.before-" +
                                   std::to_string(later.back().version) + "-2036-11-28T120001Z"});
}

TEST_CASE("register: a copy of what it was is kept before its schema is changed, and only then") {
    const ScratchFolder folder;
    const std::string location = OnSqlite::location(folder);
    const std::string now = "2026-03-05T09:00:00Z";
    { Register reg = got(Register::open(location, now, true)); }
    const auto copies = [&] { return copies_in(location); };
    { Register reg = got(Register::open(location, now)); }
    CHECK(copies().empty());

    const std::vector<Migration> later = with_one_more();
    {
        const auto raw = OnSqlite::raw(location);
        bring_up_to_date(*raw, location, later, "2036-11-28T12:00:00Z");
        CHECK(schema_version(*raw) == later.back().version);
        bring_up_to_date(*raw, location, later, "2036-11-28T12:00:01Z");
    }
    // Today's program refuses it; the copy is what it was, and opens.
    CHECK(Register::open(location, now).fault().code == FaultCode::unsupported_version);
    REQUIRE(copies().size() == 1);
    const std::string before = folder / "before";
    std::filesystem::create_directories(before);
    std::filesystem::copy(copies().front(), before + "/register.sqlite");
    CHECK(Register::open(before, now).ok());
}
