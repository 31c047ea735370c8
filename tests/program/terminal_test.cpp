// What reaches the terminal: nothing hidden, and nothing by another way.
#include <catch2/catch.hpp>

#include <pty.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>

#include "bench/program/sentence.hpp"
#include "bench/program/terminal.hpp"
#include "tests/support/source_files.hpp"

using namespace tipwright;

namespace {

const std::string forged = "a\r\nok     b.pdf: sealed\x1b[8m\xe2\x80\xae\xe2\x80\x8b\xc2\x85\xc2\xad\x7f";
const std::string safely_shown = "a\\r\\nok     b.pdf: sealed\\x1b[8m\\u202e\\u200b\\x85\\xad\\x7f";

template <class Write>
std::string written(Write write) {
    char* text = nullptr;
    std::size_t size = 0;
    std::FILE* out = ::open_memstream(&text, &size);
    write(out);
    std::fclose(out);
    std::string result(text, size);
    std::free(text);
    return result;
}

}  // namespace

TEST_CASE("a name with control, bidirectional or zero-width characters is safely_shown by escapes") {
    using program::print_to;
    CHECK(written([](std::FILE* out) { print_to(out, "%s|%-4s|\n", forged, "x"); }) ==
          safely_shown + "|x   |\n");
    CHECK(written([](std::FILE* out) { print_to(out, "%s\n", forged.c_str()); }) == safely_shown + "\n");
    CHECK(written([](std::FILE* out) { print_to(out, "%s\n", std::filesystem::path(forged)); }) ==
          safely_shown + "\n");
    CHECK(written([](std::FILE* out) { print_to(out, "%d %.1f %*s%%\n", 7, 1.25, 3, std::string("y")); }) ==
          "7 1.2   y%\n");
    CHECK(written([](std::FILE* out) { print_to(out, "%s", program::Drawn{"\033[K"}); }) == "\033[K");
    CHECK(written([](std::FILE* out) { program::print_lines(out, "one\x1b\ntwo\n"); }) == "one\\x1b\ntwo\n");
}

TEST_CASE("a sentence is folded between words on a terminal, and stays a line elsewhere") {
    const std::string sentence = "Reservation: the numbers of these limits \x1b were not confirmed.";
    const std::string visible_one = "Reservation: the numbers of these limits \\x1b were not confirmed.";
    CHECK(written([&](std::FILE* out) { program::print_sentence(out, sentence); }) == visible_one + "\n");
    int screen = -1;
    int end = -1;
    winsize size{};
    size.ws_col = 31;
    size.ws_row = 24;
    REQUIRE(::openpty(&screen, &end, nullptr, nullptr, &size) == 0);
    std::FILE* out = ::fdopen(end, "w");
    program::print_sentence(out, sentence);
    std::fflush(out);
    const std::string folded = "Reservation: the numbers of\r\nthese limits \\x1b were not\r\nconfirmed.\r\n";
    std::string drawn;
    // It comes in as many pieces as were written.
    for (char piece[200]; drawn.size() < folded.size();) {
        const ssize_t count = ::read(screen, piece, sizeof piece);
        if (count <= 0) break;
        drawn.append(piece, static_cast<std::size_t>(count));
    }
    CHECK(drawn == folded);
    std::fclose(out);
    ::close(screen);
}

TEST_CASE("nothing but the terminal's own file writes to the terminal") {
    // Files that write elsewhere: a disk, a link, a pump's port, a child's pipe, or the terminal that asks
    // for a passphrase.
    const std::set<std::string> elsewhere{
        "bench/program/instruments/traffic_recorder.cpp",
        "bench/program/register/passphrase.cpp",
        "bench/program/terminal.cpp",
        "bench/program/page/begin_run.cpp",  // a secret, down the pipe of a child
        "bench/program/run/display.cpp",     // carries what was made visible before
        "bench/virtual_bench/served_pty.cpp",
        "bench/journal/append_file.cpp",
        "bench/journal/last_words.cpp",
        "bench/run/watchdog.cpp",
        "bench/run/crash_stop.cpp",  // words of its own alone, when all else is lost
        "report/files/memory_file.cpp",
        "report/files/open_file.cpp"};
    const std::regex way(
        R"((^|[^n])printf\s*\(|\bf?puts\s*\(|\bf?putc(har)?\s*\(|std::(cout|cerr|clog)|\bfwrite\s*\()"
        R"(|::write\s*\(|\bperror\s*\()");
    int files = 0;
    for (const auto& [name, text] : test::source_files()) {
        if (elsewhere.contains(name)) continue;
        ++files;
        std::istringstream lines(text);
        int number = 0;
        for (std::string line; std::getline(lines, line);) {
            ++number;
            if (line.find("format(printf") != std::string::npos) continue;
            INFO(name << ":" << number << ": " << line);
            CHECK_FALSE(std::regex_search(line, way));
        }
    }
    CHECK(files > 300);
    // Those that write elsewhere do not name the terminal.
    for (const std::string& name : elsewhere) {
        if (name == "bench/program/terminal.cpp" || name == "bench/run/crash_stop.cpp") continue;
        INFO(name);
        const std::string text = test::content_of(test::source_dir() + "/" + name);
        CHECK_FALSE(std::regex_search(text, std::regex(R"(f(printf|puts|write)\s*\([^;]*std(out|err))")));
        CHECK_FALSE(std::regex_search(text, std::regex(R"(\bprintf\s*\(|STD(OUT|ERR)_FILENO\s*,)")));
    }
}
