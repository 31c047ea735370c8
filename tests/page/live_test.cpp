// A journal followed while it grows says what the whole journal says.
#include <catch2/catch.hpp>
#include <fstream>

#include "bench/journal/holder.hpp"
#include "bench/page/live/journal_tail.hpp"
#include "bench/page/live/live_run.hpp"
#include "report/files/files.hpp"
#include "tests/support/journal_line.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::page;
using tipwright::test::line;

namespace {

std::filesystem::path fresh(const std::string& name) {
    const auto file = test::scratch_dir() / name;
    std::filesystem::remove(file);
    return file;
}

void append(const std::filesystem::path& file, std::string_view bytes) {
    std::ofstream(file, std::ios::app | std::ios::binary) << bytes;
}

const std::string head = std::string(bench::journal_first_line) + "\n";

}  // namespace

TEST_CASE("a growing journal is read as far as it goes, whatever way it is cut", "[page]") {
    const std::string whole = head + line(1, 0, "open", {{"program", "0"}}) +
                              line(2, 1, "remark", {{"text", "one"}}) +
                              line(3, 2, "remark", {{"text", "two"}});
    for (std::size_t cut = 0; cut <= whole.size(); ++cut) {
        const auto file = fresh("cut.twj");
        append(file, whole.substr(0, cut));
        JournalTail tail(file);
        std::vector<std::string> kinds;
        const auto visit = [&](const bench::JournalEntry& entry) -> Outcome {
            kinds.push_back(std::string(entry.kind) + std::string(entry.field("text")));
            return Done{};
        };
        REQUIRE(tail.look(visit).ok());
        append(file, whole.substr(cut));
        REQUIRE(tail.look(visit).ok());
        CHECK(kinds == std::vector<std::string>{"open", "remarkone", "remarktwo"});
        CHECK(tail.entries() == 3);
    }
}

TEST_CASE("a torn end is waited for, and cut back by a run that goes on", "[page]") {
    const auto file = fresh("torn.twj");
    const std::string good = head + line(1, 0, "open", {{"program", "0"}});
    append(file, good + "2 1 remark text=\"half\n3 garbage\n");
    JournalTail tail(file);
    int count = 0;
    const auto visit = [&](const bench::JournalEntry&) -> Outcome {
        ++count;
        return Done{};
    };
    REQUIRE(tail.look(visit).ok());
    REQUIRE(tail.look(visit).ok());
    CHECK(count == 1);
    std::filesystem::resize_file(file, good.size());
    REQUIRE(tail.look(visit).ok());
    append(file, line(2, 3, "remark", {{"text", "again"}}));
    REQUIRE(tail.look(visit).ok());
    CHECK(count == 2);
}

TEST_CASE("a torn end that was cut off and written over between two looks is forgotten", "[page]") {
    // Torn within a line, and torn with a line that is none: by a remark longer than what was cut.
    for (const std::string torn : {"2 1 remark text=\"ha", "2 1 remark text=\"half\n"}) {
        CAPTURE(torn);
        const auto file = fresh("cut_between.twj");
        const std::string good = head + line(1, 0, "open", {{"program", "0"}});
        append(file, good + torn);
        JournalTail tail(file);
        std::vector<std::string> remarks;
        const auto visit = [&](const bench::JournalEntry& entry) -> Outcome {
            if (entry.kind == "remark") remarks.push_back(std::string(entry.field("text")));
            return Done{};
        };
        REQUIRE(tail.look(visit).ok());
        std::filesystem::resize_file(file, good.size());
        append(file, line(2, 3, "remark", {{"text", "longer than what was cut off"}}));
        REQUIRE(tail.look(visit).ok());
        CHECK(remarks == std::vector<std::string>{"longer than what was cut off"});
    }
}

TEST_CASE("a file that is no journal is told, a missing one too", "[page]") {
    const auto visit = [](const bench::JournalEntry&) -> Outcome { return Done{}; };
    const auto file = fresh("other.twj");
    append(file, "something else\n");
    JournalTail tail(file);
    const auto looked = tail.look(visit);
    REQUIRE_FALSE(looked.ok());
    CHECK(looked.fault().code == FaultCode::damaged);
    JournalTail missing(fresh("missing.twj"));
    CHECK(missing.look(visit).fault().code == FaultCode::file_missing);
}

TEST_CASE("holders are read from the kernel's list, those that wait left out", "[page]") {
    const auto holders = bench::holders_in(
        "1: FLOCK  ADVISORY  WRITE 15607 fe:00:10952843 0 EOF\n"
        "1: -> FLOCK  ADVISORY  WRITE 4711 fe:00:10952843 0 EOF\n"
        "2: POSIX  ADVISORY  WRITE 15608 fe:00:10952844 0 EOF\n"
        "3: FLOCK  ADVISORY  READ 15609 fe:00:10952845 0 EOF\n"
        "4: FLOCK  ADVISORY  WRITE 0 fe:00:10952846 0 EOF\nnonsense\n");
    REQUIRE(holders.size() == 1);
    CHECK(holders.begin()->second == 15607);
    CHECK(holders.begin()->first.inode == 10952843);
}

TEST_CASE("nobody is signalled for a journal that nobody holds", "[page]") {
    const auto file = fresh("nobody.twj");
    append(file, head);
    const auto sent = bench::interrupt_holder(file);
    REQUIRE_FALSE(sent.ok());
    CHECK(sent.fault().code == FaultCode::inconsistent);
}

TEST_CASE("of very many remarks the newest are kept, and told how many others there were", "[page]") {
    LiveRun run("lane", 1);
    bench::JournalEntry entry{1, 0, "open", {{"program", "0"}, {"started_at", "x"}, {"seed", "1"}}};
    REQUIRE(run.take(entry).ok());
    constexpr int many = 5000;
    for (int k = 1; k <= many; ++k) {
        const std::string text = "remark " + std::to_string(k);
        entry = {static_cast<std::uint64_t>(1 + k), double(k), "remark", {{"text", text}}};
        REQUIRE(run.take(entry).ok());
    }
    const RunFacts& facts = run.facts(true);
    CHECK(facts.remarks.size() + static_cast<std::size_t>(facts.remarks_left_out) == many);
    CHECK(facts.remarks_left_out > 0);
    CHECK(facts.remarks.back() == "remark " + std::to_string(many));
    CHECK(facts.remarked_at_s.size() == facts.remarks.size());
    CHECK(facts.remarked_at_s.back() == many);
    CHECK(facts.remarks.front() == "remark " + std::to_string(facts.remarks_left_out + 1));
}

TEST_CASE("a remark to pull the plug calls for a hand until the pump answers", "[page]") {
    LiveRun run("lane", 1);
    bench::JournalEntry entry{1, 0, "open", {{"program", "0"}, {"started_at", "x"}, {"seed", "1"}}};
    REQUIRE(run.take(entry).ok());
    entry = {2, 1, "remark", {{"text", "PULL THE PUMP'S PLUG NOW: it does not answer."}}};
    REQUIRE(run.take(entry).ok());
    CHECK(run.facts(true).hand == Hand::pull_plug);
    CHECK(run.facts(false).hand == Hand::pull_plug);
}
