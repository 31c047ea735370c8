// How a journal was closed, from its end.
#include "bench/journal/closing_entry.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <string>

#include "bench/journal/line.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

std::filesystem::path journal_of(const std::string& text) {
    const auto file = test::scratch_dir() / "closing_entry.twj";
    std::ofstream(file, std::ios::trunc | std::ios::binary) << text;
    return file;
}

std::string closed(bool complete, const std::string& reason) {
    std::string line;
    append_journal_line(line, 2, 1, "close", {{"ended_at", "x"}, {"complete", complete}, {"reason", reason}});
    return line;
}

}  // namespace

TEST_CASE("the entry that closes a journal is read from its end, whatever length it has") {
    std::string head = std::string(journal_first_line) + "\n";
    append_journal_line(head, 1, 0, "open", {{"program", "0"}});
    const std::string room = closed(false, "");
    // Shorter than what is read first, as long as that with and without the end before it, the longest there
    // is.
    for (const std::size_t length :
         {std::size_t{100}, std::size_t{4095}, std::size_t{4096}, std::size_t{4097}, journal_line_limit}) {
        CAPTURE(length);
        const std::string reason(length - room.size() + 2, 'w');  // the empty one stands in quotes
        const std::string line = closed(false, reason);
        REQUIRE(line.size() == length);
        const auto found = closing_entry(journal_of(head + line));
        REQUIRE(found);
        CHECK_FALSE(found->complete);
        CHECK(found->reason == reason);
    }
    CHECK(closing_entry(journal_of(head + closed(true, "")))->complete);
}

TEST_CASE("a journal that does not end with an entry that closes it is not closed") {
    std::string head = std::string(journal_first_line) + "\n";
    append_journal_line(head, 1, 0, "open", {{"program", "0"}});
    const std::string close = closed(true, "");
    CHECK(closing_entry(journal_of(head + close)));
    for (const std::string& text :
         {std::string(), std::string("\n"), head, head + close.substr(0, close.size() - 1),
          head + close + "3 torn", head + close + "3 torn\n", head + close + "\n",
          head + std::string(200000, 'x')}) {
        CAPTURE(text.size());
        CHECK_FALSE(closing_entry(journal_of(text)));
    }
    CHECK_FALSE(closing_entry(test::scratch_dir() / "no_such.twj"));
    CHECK_FALSE(closing_entry(test::scratch_dir()));
}
