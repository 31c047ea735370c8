#include <sys/stat.h>

#include <atomic>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <deque>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include <catch2/catch.hpp>

#include "bench/journal/line.hpp"
#include "bench/journal/reader.hpp"
#include "bench/journal/writer.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace fs = std::filesystem;

namespace {

class Folder {
public:
    explicit Folder(const std::string& name)
        : path_(tipwright::test::scratch_dir() / ("journal_test_" + name)) {
        fs::remove_all(path_);
        fs::create_directories(path_);
    }
    ~Folder() { fs::remove_all(path_); }
    fs::path file(const std::string& name) const { return path_ / name; }

private:
    fs::path path_;
};

std::string contents(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

void put(const fs::path& path, const std::string& text) {
    std::ofstream(path, std::ios::binary) << text;
}

// An entry's texts live as long as the line it was read from: here they are kept.
struct Reading {
    Result<JournalSummary> summary = JournalSummary{};
    std::vector<JournalEntry> entries;
    std::deque<std::string> texts;

    std::string_view kept(std::string_view text) { return texts.emplace_back(text); }
    void keep(JournalEntry entry) {
        entry.kind = kept(entry.kind);
        for (auto& [name, value] : entry.fields) {
            name = kept(name);
            value = kept(value);
        }
        entries.push_back(std::move(entry));
    }
};

Reading read(const fs::path& path, const JournalLimits& limits = {}) {
    Reading reading;
    reading.summary = read_journal(
        path,
        [&](const JournalEntry& entry) -> Outcome {
            reading.keep(entry);
            return Done{};
        },
        limits);
    return reading;
}

std::string line(std::uint64_t sequence, double time_s, const std::string& kind) {
    std::string text;
    append_journal_line(text, sequence, time_s, kind, {{"n", sequence}});
    return text;
}

std::string good_journal(int entries) {
    std::string text(journal_first_line);
    text += "\n";
    for (int i = 1; i <= entries; ++i) text += line(static_cast<std::uint64_t>(i), 0.5 * i, "remark");
    return text;
}

// A disk that takes `room` bytes and at most `at_once` a call.
class SmallDisk final : public AppendFile {
public:
    SmallDisk(std::string& kept, std::size_t room, std::size_t at_once, int error, int sync_error = 0)
        : kept_(kept), room_(room), at_once_(at_once), error_(error), sync_error_(sync_error) {}
    std::string name() const override { return "small disk"; }
    ssize_t write(std::string_view bytes) override {
        if (room_ == 0) {
            errno = error_;
            return -1;
        }
        const std::size_t count = std::min({bytes.size(), room_, at_once_});
        kept_ += bytes.substr(0, count);
        room_ -= count;
        return static_cast<ssize_t>(count);
    }
    int sync() override {
        errno = sync_error_;
        return sync_error_ == 0 ? 0 : -1;
    }
    int cut(std::uint64_t bytes) override {
        kept_.resize(bytes);
        return 0;
    }

private:
    std::string& kept_;
    std::size_t room_;
    std::size_t at_once_;
    int error_;
    int sync_error_;
};

// Counts bytes; those written before a sync began are on the disk when it ends.
struct DiskCounts {
    std::atomic<std::uint64_t> written = 0;
    std::atomic<std::uint64_t> on_disk = 0;
};
class CountingDisk final : public AppendFile {
public:
    explicit CountingDisk(DiskCounts& counts) : counts_(counts) {}
    std::string name() const override { return "counting disk"; }
    ssize_t write(std::string_view bytes) override {
        counts_.written += bytes.size();
        return static_cast<ssize_t>(bytes.size());
    }
    int sync() override {
        const std::uint64_t covered = counts_.written;
        std::uint64_t before = counts_.on_disk;
        while (before < covered && !counts_.on_disk.compare_exchange_weak(before, covered)) {
        }
        return 0;
    }
    int cut(std::uint64_t) override { return 0; }

private:
    DiskCounts& counts_;
};

}  // namespace

// CRC-32/ISO-HDLC, check value of "123456789": CBF43926 (catalogue of parametrised CRC algorithms, from
// memory).
TEST_CASE("a line's checksum is the CRC-32 of published check value") {
    CHECK(journal_checksum("123456789") == 0xCBF43926u);
    CHECK(journal_checksum("") == 0u);
}

TEST_CASE("entries are read back exactly as they were written") {
    const Folder folder("round_trip");
    const fs::path path = folder.file("run.journal");
    const std::string odd = "12.34 g  \"q\" \\ \t\n\r\x01\x7f\xc3\xa9 =*";
    const std::vector<double> numbers = {0.1, 1.0 / 3, -0.0, 5e-324, 1.7976931348623157e308, 123456789.125};
    {
        auto writer = JournalWriter::create(path);
        REQUIRE(writer.ok());
        REQUIRE((*writer)->append(0, "open", {{"program", "tipwright"}, {"seed", 7}}).ok());
        for (double number : numbers) REQUIRE((*writer)->append(1.25, "weight", {{"mass_g", number}}).ok());
        REQUIRE((*writer)
                    ->append(2, "remark",
                             {{"text", odd},
                              {"empty", ""},
                              {"star", "*0badf00d"},
                              {"yes", true},
                              {"no", false},
                              {"big", std::uint64_t{18446744073709551615u}},
                              {"less", std::int64_t{-5}}})
                    .ok());
        REQUIRE((*writer)->append(3, "close", {}).ok());
        REQUIRE((*writer)->sync().ok());
        CHECK((*writer)->sequence() == numbers.size() + 3);
    }
    const Reading reading = read(path);
    REQUIRE(reading.summary.ok());
    CHECK(reading.summary->entries == numbers.size() + 3);
    CHECK(reading.summary->torn_bytes == 0);
    CHECK(reading.summary->kept_bytes == fs::file_size(path));
    CHECK(reading.summary->closed);
    CHECK(reading.summary->last_time_s == 3);
    REQUIRE(reading.entries.size() == numbers.size() + 3);
    CHECK(reading.entries[0].kind == "open");
    CHECK(reading.entries[0].field("program") == "tipwright");
    CHECK(reading.entries[0].field("seed") == "7");
    CHECK(reading.entries[0].field("absent").empty());
    for (std::size_t i = 0; i < numbers.size(); ++i) {
        const double back = std::strtod(std::string(reading.entries[i + 1].field("mass_g")).c_str(), nullptr);
        CHECK(back == numbers[i]);
        CHECK(std::signbit(back) == std::signbit(numbers[i]));
        CHECK(reading.entries[i + 1].time_s == 1.25);
    }
    const JournalEntry& remark = reading.entries[numbers.size() + 1];
    CHECK(remark.field("text") == odd);
    CHECK(remark.field("empty").empty());
    CHECK(remark.field("star") == "*0badf00d");
    CHECK(remark.field("yes") == "true");
    CHECK(remark.field("no") == "false");
    CHECK(remark.field("big") == "18446744073709551615");
    CHECK(remark.field("less") == "-5");
    CHECK(remark.fields.size() == 7);
}

TEST_CASE("the example in the format's description is a good journal") {
    const std::string text = contents(fs::path(tipwright::test::source_dir()) / "bench/journal/format.md");
    const std::size_t begin = text.find("Example:\n\n") + 10;
    std::istringstream in(text.substr(begin));
    const Folder folder("example");
    std::string journal;
    for (std::string row; std::getline(in, row) && row.substr(0, 4) == "    ";)
        journal += row.substr(4) + "\n";
    put(folder.file("example.journal"), journal);
    const Reading reading = read(folder.file("example.journal"));
    INFO(journal);
    REQUIRE(reading.summary.ok());
    CHECK(reading.summary->torn_bytes == 0);
    REQUIRE(reading.entries.size() == 2);
    CHECK(reading.entries[1].field("text") == "12.34 g");
}

TEST_CASE("a journal cut at any byte gives its whole entries and says what was torn") {
    const Folder folder("cut");
    const std::string whole = good_journal(6);
    const fs::path path = folder.file("cut.journal");
    const std::size_t header = journal_first_line.size() + 1;
    for (std::size_t length = header; length <= whole.size(); ++length) {
        const std::string text = whole.substr(0, length);
        put(path, text);
        const Reading reading = read(path);
        REQUIRE(reading.summary.ok());
        const std::size_t last_newline = text.rfind('\n') + 1;
        CHECK(reading.summary->kept_bytes == last_newline);
        CHECK(reading.summary->torn_bytes == length - last_newline);
        CHECK(reading.summary->entries ==
              static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n')) - 1);
    }
    for (std::size_t length = 0; length < header; ++length) {
        put(path, whole.substr(0, length));
        const Reading reading = read(path);
        REQUIRE(!reading.summary.ok());
        CHECK(reading.summary.fault().code == FaultCode::damaged);
    }
}

TEST_CASE("every flipped bit before the last line is damage that names the line") {
    const Folder folder("flip");
    const std::string whole = good_journal(4);
    const fs::path path = folder.file("flip.journal");
    const std::size_t first = journal_first_line.size() + 1;
    const std::size_t last = whole.rfind('\n', whole.size() - 2) + 1;
    // The newline that ends the last but one joins both to one bad last line: see below.
    for (std::size_t at = first; at < last - 1; ++at) {
        for (int bit = 0; bit < 8; ++bit) {
            std::string text = whole;
            text[at] = static_cast<char>(text[at] ^ (1 << bit));
            put(path, text);
            const Reading reading = read(path);
            REQUIRE(!reading.summary.ok());
            CHECK(reading.summary.fault().code == FaultCode::damaged);
            const auto line_number =
                1 + std::count(whole.begin(), whole.begin() + static_cast<long>(at), '\n');
            CHECK(reading.summary.fault().where == path.string() + ":" + std::to_string(line_number));
        }
    }
    // In the last line it cannot be told from a torn tail: that line is left out.
    for (std::size_t at = last; at < whole.size(); ++at) {
        std::string text = whole;
        text[at] = static_cast<char>(text[at] ^ 4);
        put(path, text);
        const Reading reading = read(path);
        REQUIRE(reading.summary.ok());
        CHECK(reading.summary->entries == 3);
        CHECK(reading.summary->torn_bytes == whole.size() - last);
    }
}

TEST_CASE("missing, doubled and swapped lines, and zeros after a power cut, are told") {
    const Folder folder("order");
    const fs::path path = folder.file("order.journal");
    const std::string header = std::string(journal_first_line) + "\n";
    auto code_and_where = [&](const std::string& text) {
        put(path, header + text);
        const Reading reading = read(path);
        return reading.summary.ok() ? std::string("good")
                                    : reading.summary.fault().where.substr(path.string().size()) + " " +
                                          reading.summary.fault().what;
    };
    const std::string one = line(1, 1, "remark");
    const std::string two = line(2, 2, "remark");
    const std::string three = line(3, 3, "remark");
    CHECK(code_and_where(one + three) == ":3 entry 3 stands where entry 2 belongs");
    CHECK(code_and_where(one + one) == ":3 entry 1 stands where entry 2 belongs");
    CHECK(code_and_where(two + one) == ":2 entry 2 stands where entry 1 belongs");
    CHECK(code_and_where(one + "\n" + two) == ":3 the line is cut short");
    CHECK(code_and_where(one + two + std::string(5000, '\0')) == "good");
    CHECK(read(path).summary->torn_bytes == 5000);
    CHECK(read(path).summary->entries == 2);
    CHECK(code_and_where(one + std::string(300000, 'x') + "\n" + two) == ":3 the line is cut short");
    CHECK(code_and_where(one + two + std::string(300000, 'x')) == "good");
    CHECK(read(path).summary->torn_bytes == 300000);
}

TEST_CASE("files that are no journal are refused in one line") {
    const Folder folder("refused");
    CHECK(read(folder.file("absent")).summary.fault().code == FaultCode::file_missing);
    CHECK(read(folder.file("")).summary.fault().code == FaultCode::file_unreadable);
    put(folder.file("new"), "tipwright-journal 1.1\n");
    CHECK(read(folder.file("new")).summary.fault().code == FaultCode::unsupported_version);
    put(folder.file("csv"), "step,tips\n1,20\n");
    CHECK(read(folder.file("csv")).summary.fault().code == FaultCode::damaged);
    put(folder.file("big"), good_journal(3));
    CHECK(read(folder.file("big"), JournalLimits{64}).summary.fault().code == FaultCode::file_too_large);
}

TEST_CASE("lines with a true checksum and wrong content are refused") {
    JournalEntry entry;
    auto check = [&](const std::string& content) {
        char tail[16];
        std::snprintf(tail, sizeof tail, " *%08x", journal_checksum(content));
        std::string text = content + tail;
        const char* wrong = parse_journal_line(text, entry);
        return std::string(wrong ? wrong : "good");
    };
    CHECK(check("1 0 open") == "good");
    CHECK(check("1 0 open a=b c=\"d e\" f=\"\"") == "good");
    CHECK(check("x 0 open") == "the sequence number is not a number");
    CHECK(check("-1 0 open") == "the sequence number is not a number");
    CHECK(check("1 nan open") == "the time is not a number");
    CHECK(check("1 inf open") == "the time is not a number");
    CHECK(check("1 0 op-en") == "the kind is not a word");
    CHECK(check("1 0") == "the kind is missing");
    for (const char* bad : {"a", "a=", "=b", "a=b  c=d", "a=\"b", "a=\"b\"c", "a=\"\\x\"", "a=\"\\u00\"",
                            "a=\"\\u00e9\"", "a=\"\\", "a=b\"c"}) {
        CHECK(check(std::string("1 0 open ") + bad) == "a field is not name=value");
    }
    for (std::string text : {"", " *00000000"}) CHECK(parse_journal_line(text, entry) != nullptr);
}

TEST_CASE("a journal is never written over, and is resumed after its last good entry") {
    const Folder folder("resume");
    const fs::path path = folder.file("run.journal");
    put(path, good_journal(5) + "6 3 remark n=");
    const auto again = JournalWriter::create(path);
    REQUIRE(!again.ok());
    CHECK(again.fault().code == FaultCode::file_unwritable);
    const Reading before = read(path);
    REQUIRE(before.summary.ok());
    {
        auto writer = JournalWriter::resume(path, before.summary->kept_bytes, before.summary->entries);
        REQUIRE(writer.ok());
        REQUIRE((*writer)->append(9, "close", {{"reason", "incomplete"}}).ok());
        REQUIRE((*writer)->sync().ok());
    }
    const Reading after = read(path);
    REQUIRE(after.summary.ok());
    CHECK(after.summary->entries == 6);
    CHECK(after.summary->closed);
    CHECK(after.summary->torn_bytes == 0);
}

TEST_CASE("a full disk is told once and for all, and what is there can be read") {
    for (const bool durable : {false, true}) {
        std::string kept;
        auto writer =
            JournalWriter::create(std::make_unique<SmallDisk>(kept, 1000, 7, ENOSPC), {durable, 0.01});
        REQUIRE(writer.ok());
        Outcome outcome = Done{};
        int appended = 0;
        while (outcome.ok() && appended < 1000) {
            outcome = (*writer)->append(appended, "remark", {{"text", "some words"}});
            if (outcome.ok()) outcome = (*writer)->sync();
            ++appended;
        }
        REQUIRE(!outcome.ok());
        CHECK(outcome.fault().code == FaultCode::disk_full);
        CHECK(outcome.fault().where == "small disk");
        CHECK(!(*writer)->append(1, "remark", {}).ok());
        CHECK(!(*writer)->sync().ok());
        writer->reset();
        CHECK(kept.size() == 1000);
        const Folder folder("full");
        put(folder.file("full.journal"), kept);
        const Reading reading = read(folder.file("full.journal"));
        REQUIRE(reading.summary.ok());
        CHECK(reading.summary->entries == static_cast<std::uint64_t>(appended) - 1);
    }
}

TEST_CASE("other write errors and errors of the sync are faults too") {
    std::string kept;
    auto writer = JournalWriter::create(std::make_unique<SmallDisk>(kept, 100, 100, EIO));
    REQUIRE(writer.ok());
    for (int i = 0; i < 10; ++i) (void)(*writer)->append(i, "remark", {{"text", "some words"}});
    const Outcome outcome = (*writer)->sync();
    REQUIRE(!outcome.ok());
    CHECK(outcome.fault().code == FaultCode::file_unwritable);

    const auto never =
        JournalWriter::create(std::make_unique<SmallDisk>(kept, 1000, 100, EIO, EIO), {true, 0.01});
    REQUIRE(!never.ok());
    CHECK(never.fault().code == FaultCode::file_unwritable);
}

TEST_CASE("a sync that was asked for is done when it returns, one that was not within the group's time") {
    DiskCounts counts;
    auto patient = JournalWriter::create(std::make_unique<CountingDisk>(counts), {true, 1.0});
    REQUIRE(patient.ok());
    for (int i = 0; i < 50; ++i) {
        REQUIRE((*patient)->append(i, "state", {{"to", "settle"}}).ok());
        REQUIRE((*patient)->sync().ok());
        REQUIRE(counts.on_disk == counts.written);
    }
    REQUIRE((*patient)->append(50, "remark", {}).ok());
    patient->reset();  // what is left is synced when it is closed
    CHECK(counts.on_disk == counts.written);

    DiskCounts grouped;
    auto writer = JournalWriter::create(std::make_unique<CountingDisk>(grouped), {true, 0.01});
    REQUIRE(writer.ok());
    for (int i = 0; i < 6; ++i) {
        // Also after a pause in which nothing was to be synced.
        if (i % 2 == 1) std::this_thread::sleep_for(std::chrono::milliseconds(30));
        REQUIRE((*writer)->append(i, "remark", {}).ok());
        const auto begun = std::chrono::steady_clock::now();
        while (grouped.on_disk != grouped.written) {
            REQUIRE(std::chrono::steady_clock::now() - begun < std::chrono::seconds(60));
            std::this_thread::yield();
        }
    }
}

TEST_CASE("an entry that no reader would take is refused when written") {
    std::string kept;
    auto writer = JournalWriter::create(std::make_unique<SmallDisk>(kept, 1u << 20, 1u << 20, EIO));
    REQUIRE(writer.ok());
    const Outcome outcome = (*writer)->append(0, "remark", {{"text", std::string(journal_line_limit, 'x')}});
    REQUIRE(!outcome.ok());
    CHECK(outcome.fault().code == FaultCode::bad_value);
    CHECK((*writer)->append(0, "remark", {{"text", "short"}}).ok());
    CHECK((*writer)->sequence() == 1);
    CHECK_THROWS_AS((*writer)->append(0, "re mark", {}), std::logic_error);
}

TEST_CASE("a durable journal has on disk what was synced") {
    const Folder folder("durable");
    const fs::path path = folder.file("run.journal");
    auto writer = JournalWriter::create(path, {true, 0.05});
    REQUIRE(writer.ok());
    for (int i = 0; i < 200; ++i) REQUIRE((*writer)->append(i, "remark", {{"i", i}}).ok());
    // Written through to the operating system at once: a second reader sees every entry.
    CHECK(read(path).summary->entries == 200);
    REQUIRE((*writer)->append(200, "state", {{"to", "stopped"}}).ok());
    REQUIRE((*writer)->sync().ok());
    CHECK(read(path).summary->entries == 201);
}
