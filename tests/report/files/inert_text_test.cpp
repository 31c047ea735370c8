#include "report/files/inert_text.hpp"

#include <catch2/catch.hpp>
#include <random>
#include <string>
#include <vector>

using namespace tipwright::report;

TEST_CASE("what a spreadsheet would run as a formula is plain text, and comes back") {
    CHECK(inert("=1+1") == "'=1+1");
    CHECK(inert("'=1+1") == "''=1+1");
    CHECK(inert("\tx") == "'\tx");
    CHECK(inert("＝1") == "'＝1");
    CHECK(inert("＠a") == "'＠a");
    // Read with semicolons, as in de, fr and es.
    CHECK(inert("x;=1+1") == "x;'=1+1");
    CHECK(inert("S;\"=3+4\"") == "S;\"'=3+4\"");
    CHECK(inert("a-b = 3, -4") == "a-b = 3, -4");
    CHECK(inert_line("Demo,\"=1+2\",x") == "Demo,\"'=1+2\",x");
    CHECK(inert_line("= 3") == "= 3");
    CHECK(text_field("@p, \"q\"") == "\"'@p, \"\"q\"\"\"");
    CHECK(text_field("=a\nb") == "'=a\\nb");
}

TEST_CASE("no text that was made inert begins a formula, and each is read back as it was") {
    const std::vector<std::string> letters{"=",  "+", "-", "@", "\t", "\r", "'",
                                           "\"", ";", ",", " ", "a",  "＝", "é"};
    std::mt19937 random(20261130);
    for (int run = 0; run < 20000; ++run) {
        std::string text;
        for (std::size_t i = random() % 8; i > 0; --i) text += letters[random() % letters.size()];
        INFO(text);
        const std::string made = inert(text);
        CHECK(from_inert(made) == text);
        // A spreadsheet's own view: cut at semicolons and tabs, blanks and quotes passed over.
        std::string piece;
        for (const char c : made + ";") {
            if (c != ';' && c != '\t') {
                piece += c;
                continue;
            }
            const std::size_t first = piece.find_first_not_of(" \"");
            if (first != std::string::npos)
                CHECK(std::string("=+-@\r").find(piece[first]) == std::string::npos);
            piece.clear();
        }
    }
}
