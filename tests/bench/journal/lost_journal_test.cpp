// A journal that nobody will find any more: its writer says so within the time of a group commit.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string>

#include "bench/journal/writer.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace fs = std::filesystem;

TEST_CASE("a journal that is removed, moved or replaced while it is written is told at the next sync") {
    const fs::path folder = test::scratch_dir() / "lost_journal_test";
    fs::remove_all(folder);
    fs::create_directories(folder);
    const auto fault_after = [&](const std::string& name, auto do_it) -> std::optional<Fault> {
        const fs::path path = folder / name;
        auto writer = JournalWriter::create(path, {true, 0.01});
        REQUIRE(writer.ok());
        REQUIRE((*writer)->append(1, "remark", {{"text", "one"}}).ok());
        REQUIRE((*writer)->sync().ok());
        do_it(path);
        static_cast<void>((*writer)->append(2, "remark", {{"text", "two"}}));
        const Outcome synced = (*writer)->sync();
        return synced ? std::nullopt : std::optional(synced.fault());
    };
    const auto removed = fault_after("removed", [](const fs::path& path) { fs::remove(path); });
    REQUIRE(removed);
    CHECK(removed->code == FaultCode::file_unwritable);
    CHECK(removed->what == "the journal was removed or renamed while its run went on");
    CHECK(fault_after("moved", [](const fs::path& path) { fs::rename(path, path.string() + ".away"); }));
    CHECK(fault_after("replaced", [](const fs::path& path) {
        fs::rename(path, path.string() + ".away");
        std::ofstream(path) << "another";
    }));
    CHECK_FALSE(fault_after("kept", [](const fs::path&) {}));
    fs::remove_all(folder);
}
