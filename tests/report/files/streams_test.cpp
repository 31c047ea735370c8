#include "report/files/streams.hpp"

#include <catch2/catch.hpp>
#include <filesystem>

#include "report/files/files.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

TEST_CASE("streams: what grew apart goes into another file, and leaves nothing behind") {
    const std::filesystem::path folder = test::scratch_dir() / "streams";
    std::filesystem::remove_all(folder);
    std::filesystem::create_directories(folder);
    const std::string long_row(1000, 'x');
    {
        GrowingFile whole(folder / "whole");
        {
            GrowingFile rows(folder / "rows");
            // More than a piece, and some that waits to be written.
            for (int i = 0; i < 700; ++i) rows.append(long_row);
            rows.append("last");
            whole.append("[");
            rows.append_to(whole);
            whole.append("]");
        }
        REQUIRE(whole.commit());
    }
    const auto text = read_file(folder / "whole");
    REQUIRE(text);
    CHECK(text->size() == 700 * 1000 + 6);
    CHECK(text->substr(text->size() - 6) == "xlast]");
    CHECK(std::distance(std::filesystem::directory_iterator(folder), {}) == 1);

    // What was written apart and cannot be read back: told as it is, and the other file is not written.
    {
        GrowingFile lost(folder / "lost");
        lost.append(std::string(400000, 'x'));
        for (const auto& entry : std::filesystem::directory_iterator(folder))
            if (entry.path().filename().string().starts_with("lost.new-"))
                std::filesystem::remove(entry.path());
        GrowingFile whole(folder / "part");
        lost.append_to(whole);
        const Outcome committed = whole.commit();
        REQUIRE_FALSE(committed);
        CHECK(committed.fault().what == "no such file");
        CHECK(committed.fault().where.find("lost.new-") != std::string::npos);
        CHECK_FALSE(std::filesystem::exists(folder / "part"));
    }

    // A folder that is not there: the other file is not written either.
    GrowingFile kept(folder / "part");
    kept.append("held");
    CHECK(kept.hold());
    CHECK_FALSE(std::filesystem::exists(folder / "part"));  // its place is as it was
    kept.append(" and all");
    CHECK(kept.commit());
    CHECK(*read_file(folder / "part") == "held and all");
    std::filesystem::remove(folder / "part");
    GrowingFile nowhere(folder / "none" / "rows");
    GrowingFile other(folder / "other");
    nowhere.append_to(other);
    CHECK_FALSE(other.commit());
    CHECK_FALSE(std::filesystem::exists(folder / "other"));
}
