// Recovery of journals: whatever a crash or a full disk left, the run is found, and what was kept is kept.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <string>

#include "bench/instruments/virtual_identity.hpp"
#include "bench/journal/line.hpp"
#include "bench/run/collected.hpp"
#include "bench/run/pump_use.hpp"
#include "bench/run/recovery.hpp"
#include "bench/run/run_log.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace fs = std::filesystem;

namespace {

class Journal {
public:
    explicit Journal(const std::string& name)
        : path_(tipwright::test::scratch_dir() / ("recovery_test_" + name + ".twj")) {
        fs::remove(path_);
    }
    ~Journal() { fs::remove(path_); }
    const fs::path& path() const { return path_; }
    void put(const std::string& text) const { std::ofstream(path_, std::ios::binary) << text; }

private:
    fs::path path_;
};

void begin(RunLog& log) {
    const fs::path templates = fs::path(tipwright::test::source_dir()) / "templates";
    const auto bench = load_bench("virtual-bench", templates);
    const auto gauge = load_gauge("bucket-200-twin", templates);
    const auto plan = load_plan("three-point-check", templates);
    log.open(0, "test", "2026-11-02T08:00:00Z", "1");
    log.given(0, "bench", bench->text.name, bench->text.text);
    log.given(0, "gauge kind", gauge->kind_text.name, gauge->kind_text.text);
    log.given(0, "plan", plan->text.name, plan->text.text);
}

}  // namespace

TEST_CASE("a run that had not begun keeps nothing and is told from one that had") {
    const Journal journal("begun");
    {
        auto writer = JournalWriter::create(journal.path());
        REQUIRE(writer.ok());
        RunLog log(**writer);
        begin(log);
        REQUIRE((*writer)->sync().ok());
    }
    {
        const auto open = open_run(journal.path());
        REQUIRE(open.ok());
        CHECK_FALSE(open->run.begun);
        CHECK(open->first_step == 1);
    }
    {
        auto open = open_run(journal.path());
        REQUIRE(open.ok());
        auto writer = go_on_writing(*open, {});
        REQUIRE(writer.ok());
        RunLog log(**writer);
        log.state(1, RunState::idle, RunState::draining, 0, 0);
    }
    const auto open = open_run(journal.path());
    REQUIRE(open.ok());
    CHECK(open->run.begun);
    CHECK(open->run.plan.plan.steps.size() == 3);
    CHECK(open->first_step == 1);
    CHECK(open->run.end_reason == "the journal was never closed: the program or the machine stopped");
}

TEST_CASE("a journal says once, before the run begins, in which state the gauge is") {
    const auto taken = [](const std::vector<std::string>& states) {
        Replay replay;
        JournalEntry entry;
        entry.kind = "open";
        entry.fields = {{"program", "test"}};
        REQUIRE(replay.take(entry).ok());
        entry.kind = "gauge";
        Outcome outcome = Done{};
        for (const std::string& state : states) {
            entry.fields = {{"state", state}};
            if (outcome) outcome = replay.take(entry);
        }
        return outcome ? Result<std::optional<bool>>(replay.so_far().as_left) : outcome.fault();
    };
    CHECK_FALSE(taken({})->has_value());  // as journals of 1.0
    CHECK(**taken({"as_left"}));
    CHECK_FALSE(**taken({"as_found"}));
    CHECK(taken({"as_left", "as_found"}).fault().code == FaultCode::damaged);
    CHECK(taken({"left"}).fault().code == FaultCode::damaged);
}

TEST_CASE("a journal that names who measures is believed over the bench's description") {
    for (const char* named : {"", "N. Named"}) {
        const Journal journal("operator");
        {
            auto writer = JournalWriter::create(journal.path());
            REQUIRE(writer.ok());
            RunLog log(**writer);
            begin(log);
            if (*named != 0) REQUIRE((*writer)->append(0, "operator", {{"name", std::string(named)}}).ok());
        }
        {
            // Resumed before anything was measured.
            auto open = open_run(journal.path());
            REQUIRE(open.ok());
            CHECK_FALSE(open->run.begun);
            auto writer = go_on_writing(*open, {});
            REQUIRE(writer.ok());
            RunLog log(**writer);
            log.state(1, RunState::idle, RunState::draining, 0, 0);
        }
        const auto open = open_run(journal.path());
        REQUIRE(open.ok());
        CHECK(open->run.bench.operator_name == (*named != 0 ? named : "A. Example"));
    }
}

TEST_CASE("a run that is recovered knows what each instrument said last that it is") {
    const Journal journal("identities");
    const std::string odd = "P \"7\". The balance says it is \"X\".";
    {
        auto writer = JournalWriter::create(journal.path());
        REQUIRE(writer.ok());
        RunLog log(**writer);
        begin(log);
        log.pump(0, 0);
        log.remark(1, identity_remark("pump", "P 6"));
        log.remark(2, identity_remark("pump", odd));
        log.remark(2, identity_remark("balance", "B 1"));
        log.remark(
            3, "On the link to the pump: another instrument answers on its link: \"Q\" instead of \"P\".");
    }
    const auto open = open_run(journal.path());
    REQUIRE(open.ok());
    CHECK(open->identities == KnownIdentities{{"balance", "\"B 1\""}, {"pump", in_quotes(odd)}});
}

TEST_CASE("even a first line cut short is recovered, and the journal can be closed") {
    for (std::size_t length = 0; length <= journal_first_line.size(); ++length) {
        const Journal journal("first_line");
        journal.put(std::string(journal_first_line.substr(0, length)));
        auto open = open_run(journal.path());
        REQUIRE(open.ok());
        CHECK(open->journal.torn_bytes == length);
        auto writer = go_on_writing(*open, {});
        REQUIRE(writer.ok());
        RunLog log(**writer);
        log.close(0, "2026-11-02T08:00:00Z", false, "closed as incomplete");
        CHECK_FALSE(log.failure());
        const auto summary =
            read_journal(journal.path(), [](const JournalEntry&) { return Outcome(Done{}); });
        REQUIRE(summary.ok());
        CHECK(summary->closed);
        CHECK(summary->entries == 1);
    }
    const Journal other("other");
    other.put("step,tips\n");
    CHECK(open_run(other.path()).fault().code == FaultCode::damaged);
    CHECK(open_run(other.path().string() + ".none").fault().code == FaultCode::file_missing);
}

TEST_CASE("one writer holds a journal at a time") {
    const Journal journal("held");
    auto writer = JournalWriter::create(journal.path());
    REQUIRE(writer.ok());
    const auto open = open_run(journal.path());
    REQUIRE_FALSE(open.ok());
    CHECK(open.fault().code == FaultCode::file_unwritable);
    CHECK(open.fault().what.find("another process") != std::string::npos);
    writer->reset();
    CHECK(open_run(journal.path()).ok());
}

TEST_CASE("a run is not resumed over a step it has") {
    const Journal journal("over");
    auto writer = JournalWriter::create(journal.path());
    RunLog log(**writer);
    begin(log);
    log.state(1, RunState::idle, RunState::draining, 0, 0);
    log.go_on(2, "2026-11-02T08:10:00Z", 1, 17);
    log.state(3, RunState::idle, RunState::draining, 0, 0);
    log.go_on(4, "2026-11-02T08:20:00Z", 1, 0);
    writer->reset();
    const auto open = open_run(journal.path());
    REQUIRE(open.ok());
    CHECK(open->run.times_continued == 2);
    CHECK_FALSE(open->run.complete);
    REQUIRE(open->run.remarks.size() == 2);
    CHECK(open->run.remarks[0].find("2026-11-02T08:10:00Z from step 1") != std::string::npos);
    CHECK(open->run.remarks[0].find("17 torn bytes") != std::string::npos);
    CHECK(open->run.remarks[0].find("no step was kept") != std::string::npos);
}

TEST_CASE("recovery: what spoke against an instrument and was accepted is kept") {
    const Journal file("accepted");
    {
        auto journal = JournalWriter::create(file.path());
        REQUIRE(journal.ok());
        RunLog log(**journal);
        begin(log);
        log.accepted(
            0,
            {"balance", "B 1", Nonconformity::calibration_overdue, "2026-10-31", {}, {}, "ordered \"new\""});
        log.accepted(0, {"balance", "B 1", Nonconformity::check_failed, "2026-11-01", -0.25, 500, ""});
        log.state(1, RunState::idle, RunState::priming, 0, 60);
    }
    const auto open = open_run(file.path());
    REQUIRE(open.ok());
    REQUIRE(open->run.concessions.size() == 2);
    const Concession& overdue = open->run.concessions[0];
    CHECK(overdue.role == "balance");
    CHECK(overdue.serial == "B 1");
    CHECK(overdue.nonconformity == Nonconformity::calibration_overdue);
    CHECK(overdue.since == "2026-10-31");
    CHECK(overdue.reason == "ordered \"new\"");
    CHECK_FALSE(overdue.error_g);
    const Concession& failed = open->run.concessions[1];
    CHECK(failed.nonconformity == Nonconformity::check_failed);
    CHECK(failed.error_g == -0.25);
    CHECK(failed.mass_g == 500);
    Replay replay;
    JournalEntry entry;
    entry.kind = "accepted";
    entry.fields = {{"role", "pump"}, {"nonconformity", "tired"}};
    JournalEntry first;
    first.kind = "open";
    first.fields = {{"version", "test"}};
    REQUIRE(replay.take(first).ok());
    CHECK_FALSE(replay.take(entry).ok());
}

TEST_CASE("recovery: the hours a pump ran, of a run that broke off and was resumed") {
    const Journal file("pump_use");
    {
        auto journal = JournalWriter::create(file.path());
        REQUIRE(journal.ok());
        RunLog log(**journal);
        begin(log);
        log.pump(0, 0);
        log.pump(100, 30);
        log.pump(200, 31);  // trimmed
        log.pump(1000, 0);
        log.pump(1500, 31);
        log.remark(1600, "last before the crash");
        log.go_on(9000, "2026-11-02T10:30:00Z", 1, 0);
        log.pump(9000, 0);
        log.pump(9100, 20);
        log.close(9200, "2026-11-02T10:34:00Z", false, "stopped");
    }
    const auto hours = pumping_h(file.path());
    REQUIRE(hours.ok());
    CHECK(*hours == Approx((900 + 100 + 100) / 3600.0));
    CHECK_FALSE(pumping_h(file.path().string() + ".none").ok());
}

TEST_CASE("what came into the vessel since it was last emptied is known of a run that is resumed") {
    const Journal journal("collected");
    {
        auto writer = JournalWriter::create(journal.path());
        REQUIRE(writer.ok());
        RunLog log(**writer);
        begin(log);
        double now_s = 0;
        const auto shows = [&](double mass_g) {
            WeightReading reading;
            reading.arrived_s = ++now_s;
            reading.mass_g = mass_g;
            log.weight(reading);
        };
        shows(180);
        shows(900);
        log.state(++now_s, RunState::collecting, RunState::draining, 0, 0);
        shows(-20);
        shows(181);
        log.state(++now_s, RunState::draining, RunState::settling, 1, 50);
        shows(181);
        shows(481);
        // Tared meanwhile, for all anybody knows.
        log.go_on(++now_s, "2026-11-02T09:00:00Z", 1, 0);
        shows(0);
        shows(200);
        // An emptying that was broken off is none.
        log.state(++now_s, RunState::settling, RunState::draining, 0, 0);
        shows(90);
        log.state(++now_s, RunState::draining, RunState::stopping, 0, 0);
        REQUIRE((*writer)->sync().ok());
    }
    const auto collected = collected_g(journal.path());
    REQUIRE(collected.ok());
    CHECK(*collected == Approx(300 + 200));
}
