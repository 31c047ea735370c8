#include "calib/base/csv.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;
using namespace tipwright;

namespace {

std::vector<std::vector<std::string>> rows_of(const std::string& text) {
    const auto csv = parse_csv(text, "t.csv");
    REQUIRE(csv);
    std::vector<std::vector<std::string>> out;
    for (const CsvRow& row : csv->rows) {
        out.emplace_back();
        for (const CsvField& field : row.fields) out.back().push_back(field.text);
    }
    return out;
}

std::string line_of(const std::string& text) {
    const auto csv = parse_csv(text, "t.csv");
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
    const auto csv = parse_csv("# plain, with comma,,,\r\n\"# quoted, with comma\",,\r\n#\r\na\r\n", "t.csv");
    REQUIRE(csv);
    REQUIRE(csv->remarks.size() == 3);
    CHECK(csv->remarks[0].text == " plain, with comma");
    CHECK(csv->remarks[1].text == " quoted, with comma");
    CHECK(csv->remarks[2].text.empty());
}

TEST_CASE("fields know their place, in characters") {
    const auto csv = parse_csv("ä,b\n\"x\ny\",z\nq,r", "t.csv");
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
}

TEST_CASE("a table has caps") {
    CHECK(line_of(std::string(csv_bytes_max + 1, 'a')) ==
          "t.csv: the file has 67108865 bytes, at most 67108864 are read; split it");
    CHECK(line_of("\"" + std::string(4001, 'a') + "\"") ==
          "t.csv:1:1: a field has 4001 bytes, at most 4000 are read; look for a quote that is never closed");
    CHECK(line_of(std::string(200, ',')) == "t.csv:1:201: a row has more than 200 fields");
    std::string many;
    for (std::size_t i = 0; i <= csv_rows_max; ++i) many += "1\n";
    CHECK(line_of(many) == "t.csv:200001:1: more than 200000 rows; split it");
}

TEST_CASE("a spreadsheet's semicolons and tabs part fields as commas do, whichever the heading uses") {
    CHECK(rows_of("a;b\r\n\"x;\"\"y\"\"\";\n;1,5\n") == Rows{{"a", "b"}, {"x;\"y\"", ""}, {"", "1,5"}});
    CHECK(rows_of("a\tb\n1\t2") == Rows{{"a", "b"}, {"1", "2"}});
    CHECK(rows_of("\"a;b\",c\n1;2,3\n") == Rows{{"a;b", "c"}, {"1;2", "3"}});
    const auto marked = parse_csv("# x = 0,5;;\n\"# y = a;b\";\n\na;b\n", "t.csv");
    REQUIRE(marked);
    CHECK(marked->separator == ';');
    REQUIRE(marked->remarks.size() == 2);
    CHECK(marked->remarks[0].text == " x = 0,5");
    CHECK(marked->remarks[1].text == " y = a;b");
}

TEST_CASE("a comma is a decimal sign where it does not part fields") {
    CHECK(with_decimal_point("1,5", ';') == "1.5");
    CHECK(with_decimal_point("1,5", ',') == "1,5");
    CHECK(with_decimal_point("1,234,5", '\t') == "1,234,5");
}

TEST_CASE("a field is quoted when it needs it") {
    CHECK(csv_field("a b") == "a b");
    CHECK(csv_field("a,b") == "\"a,b\"");
    CHECK(csv_field("a\"b\n") == "\"a\"\"b\n\"");
}
