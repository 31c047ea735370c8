// What holds for every table that a run leaves: a new one is tested here without a line of its own.
#include <catch2/catch.hpp>

#include <fstream>
#include <regex>
#include <set>
#include <sstream>

#include "report/tables/tables.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using report::RunTable;
using report::TableForm;

namespace {

report::Record record_with_every_table() {
    test::SampleOptions wish;
    wish.repeats = 5;
    return test::sample_record(wish);
}

std::string rows_of(const RunTable& table, const std::string& text) {
    std::string out;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);)
        if (!table.is_head(line)) out += line + "\n";
    return out;
}

}  // namespace

TEST_CASE("every table of a run is known again by how it begins, and by nothing else's beginning") {
    const report::Record record = record_with_every_table();
    const auto words = test::sample_words(test::source_dir());
    REQUIRE(report::run_tables().size() >= 3);
    for (const RunTable& table : report::run_tables()) {
        INFO(table.name);
        CHECK(table.is_of(record));
        const auto text = table.text(record, words, TableForm::current);
        REQUIRE(text);
        CHECK(report::run_table_of(*text) == &table);
        for (const RunTable& other : report::run_tables())
            if (&other != &table) {
                CHECK(other.name != table.name);
                CHECK(other.file != table.file);
                CHECK_FALSE(other.first_line.starts_with(table.first_line));
            }
    }
    CHECK(report::run_table_of("# tipwright") == nullptr);
    CHECK(report::run_table_of("") == nullptr);
}

TEST_CASE("below its head a table of a run says the same in every language, and there whose it is") {
    const report::Record record = record_with_every_table();
    for (const RunTable& table : report::run_tables()) {
        INFO(table.name);
        const auto words = test::sample_words(test::source_dir());
        const std::string english = *table.text(record, words, TableForm::current);
        const std::string rows = rows_of(table, english);
        CHECK(rows.find('\n') != std::string::npos);
        CHECK(rows.find(words.text("mark.invented")) == std::string::npos);
        for (const char* language : {"de", "fr", "es"}) {
            INFO(language);
            const auto other = test::sample_words(test::source_dir(), language);
            const std::string text = *table.text(record, other, TableForm::current);
            CHECK(text != english);
            CHECK(rows_of(table, text) == rows);
            CHECK(text.find(record.identity.serial) != std::string::npos);
            CHECK(text.find(other.text("mark.invented")) != std::string::npos);
        }
    }
}

TEST_CASE("text from outside stays in the head of every table of a run") {
    report::Record record = record_with_every_table();
    const auto words = test::sample_words(test::source_dir());
    std::vector<std::string> rows;
    for (const RunTable& table : report::run_tables())
        rows.push_back(rows_of(table, *table.text(record, words, TableForm::current)));
    record.identity.serial = "X\n0,0,0,0\n|0|0|\r=cmd";
    record.laboratory.name = "-->\n|0|";
    std::size_t at = 0;
    for (const RunTable& table : report::run_tables()) {
        INFO(table.name);
        CHECK(rows_of(table, *table.text(record, words, TableForm::current)) == rows[at++]);
    }
}

TEST_CASE("README names every file that a run leaves, and no other") {
    std::ifstream in(test::source_dir() + "/README.md", std::ios::binary);
    std::stringstream readme;
    readme << in.rdbuf();
    const std::string text = readme.str();
    const std::size_t begin = text.find("A run leaves in its folder:");
    REQUIRE(begin != std::string::npos);
    const std::string table = text.substr(begin, text.find("\n\n", text.find("\n| `", begin)) - begin);
    static const std::regex row("\n\\| `([^`]+)` \\| ");
    std::set<std::string> named;
    for (std::sregex_iterator at(table.begin(), table.end(), row), end; at != end; ++at)
        named.insert((*at)[1]);
    std::set<std::string> left{"journal.twj", "record.json", "certificate.pdf"};
    for (const RunTable& table_of_run : report::run_tables()) left.emplace(table_of_run.file);
    CHECK(named == left);
}
