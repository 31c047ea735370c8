#include <catch2/catch.hpp>
#include <filesystem>

#include "report/register/before_migration.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEST_CASE("register: a copy of what it was is kept before its schema is changed, and only then") {
    const ScratchFolder folder;
    const std::string location = OnSqlite::location(folder);
    const std::string now = "2026-03-05T09:00:00Z";
    { Register reg = got(Register::open(location, now, true)); }
    const auto copies = [&] {
        std::vector<std::string> out;
        for (const auto& entry : std::filesystem::directory_iterator(location))
            if (entry.path().filename().string().find(".before-") != std::string::npos)
                out.push_back(entry.path().string());
        return out;
    };
    { Register reg = got(Register::open(location, now)); }
    CHECK(copies().empty());

    std::vector<Migration> later = migrations();
    Migration next;
    next.version = later.back().version + 1;
    next.title = "colours";
    next.tables = {"ALTER TABLE gauges ADD COLUMN colour $text NOT NULL DEFAULT ''"};
    later.push_back(next);
    {
        const auto raw = OnSqlite::raw(location);
        bring_up_to_date(*raw, location, later, "2036-11-28T12:00:00Z");
        CHECK(schema_version(*raw) == next.version);
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
