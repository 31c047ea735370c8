#include "bench/supplied/csv.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;
using namespace tipwright::bench;

namespace {

std::vector<std::vector<std::string>> rows_of(const std::string& text) {
    const auto csv = parse_csv({"t.csv", text});
    REQUIRE(csv);
    std::vector<std::vector<std::string>> out;
    for (const CsvRow& row : csv->rows) {
        out.emplace_back();
        for (const CsvField& field : row.fields) out.back().push_back(field.text);
    }
    return out;
}

std::string line_of(const std::string& text) {
    const auto csv = parse_csv({"t.csv", text});
    return csv ? "accepted" : csv.fault().line();
}

using Rows = std::vector<std::vector<std::string>>;

}  // namespace

// RFC 4180 clause 2, its seven rules in order.
TEST_CASE("CSV follows RFC 4180") {
    CHECK(rows_of("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n") == Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(rows_of("aaa,bbb,ccc\r\nzzz,yyy,xxx") == Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(rows_of("a b, c ,\n") == Rows{{"a b", " c ", ""}});
    CHECK(rows_of("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx") ==
          Rows{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(rows_of("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx") ==
          Rows{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(rows_of("\"a,a\",b") == Rows{{"a,a", "b"}});
    CHECK(rows_of("\"aaa\",\"b\"\"bb\",\"ccc\"") == Rows{{"aaa", "b\"bb", "ccc"}});
}

TEST_CASE("a byte order mark, blank lines and leading remarks are no rows") {
    CHECK(rows_of("\xEF\xBB\xBF# x = 1\n\na,b\n\n1,2\n\n") == Rows{{"a", "b"}, {"1", "2"}});
    CHECK(rows_of("").empty());
    const auto csv =
        parse_csv({"t.csv", "# plain, with comma,,,\r\n\"# quoted, with comma\",,\r\n#\r\na\r\n"});
    REQUIRE(csv);
    REQUIRE(csv->remarks.size() == 3);
    CHECK(csv->remarks[0].text == " plain, with comma");
    CHECK(csv->remarks[1].text == " quoted, with comma");
    CHECK(csv->remarks[2].text.empty());
}

TEST_CASE("fields know their place, in characters") {
    const auto csv = parse_csv({"t.csv", "ä,b\n\"x\ny\",z\nq,r"});
    REQUIRE(csv);
    CHECK(csv->rows[0].fields[1].at.column == 3);
    CHECK(csv->rows[1].fields[1].at.line == 3);
    CHECK(csv->rows[2].fields[1].at.line == 4);
    CHECK(csv->rows[2].fields[1].at.column == 3);
}

TEST_CASE("text that is no CSV is refused with its place") {
    CHECK(line_of("a,b\n1,2\"3\n") ==
          "t.csv:2:4: a quote inside a field that does not begin with one; put the whole field in quotes and "
          "double "
          "the quotes inside");
    CHECK(line_of("a,b\n1,\"2\"3\n") ==
          "t.csv:2:6: text behind a closing quote; double the quotes that belong to the field");
    CHECK(line_of("a,b\n1,\"2\n3\n") ==
          "t.csv:2:3: a quote that is never closed; close it, or double the quotes inside a field");
    CHECK(line_of("a\rb\n") ==
          "t.csv:1:2: a carriage return without line feed; save with line ends of Windows or Unix");
    CHECK(line_of(std::string("a,\0b", 4)) ==
          "t.csv:1:3: a zero byte; save the table as CSV in UTF-8, not as Unicode text or a workbook");
    CHECK(line_of("\xFF\xFE"
                  "a") == "t.csv:1:1: the text is UTF-16; save the table as CSV in UTF-8");
    CHECK(line_of("a\n# late\n") ==
          "t.csv:2:1: a remark stands among the rows; put lines that begin with # before the header");
}

TEST_CASE("a table has caps") {
    CHECK(line_of(std::string(csv_bytes_max + 1, 'a')) ==
          "t.csv: the file has 8388609 bytes, at most 8388608 are read; split it: one file for each gauge");
    CHECK(line_of("\"" + std::string(1001, 'a') + "\"") ==
          "t.csv:1:1: a field has 1001 bytes, at most 1000 are read; look for a quote that is never closed");
    CHECK(line_of(std::string(64, ',')) == "t.csv:1:65: a row has more than 64 fields");
    std::string many;
    for (std::size_t i = 0; i <= csv_rows_max; ++i) many += "1\n";
    CHECK(line_of(many) == "t.csv:200001:1: more than 200000 rows; split it");
}
