#include <catch2/catch.hpp>

#include <sstream>

#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

const report::certificate::Words in_english = test::sample_words(test::source_dir());

std::vector<std::string> split(const std::string& text, char at) {
    std::vector<std::string> parts;
    std::istringstream stream(text);
    for (std::string part; std::getline(stream, part, at);) parts.push_back(part);
    if (!text.empty() && text.back() == at && at == ',') parts.emplace_back();
    return parts;
}

struct Table {
    std::vector<std::string> comments;
    std::vector<std::string> columns;
    std::vector<std::vector<std::string>> rows;
};

Table read(const std::string& text) {
    Table table;
    for (const std::string& line : split(text, '\n')) {
        if (line.rfind("#", 0) == 0)
            table.comments.push_back(line);
        else if (table.columns.empty())
            table.columns = split(line, ',');
        else
            table.rows.push_back(split(line, ','));
    }
    return table;
}

bool says(const Table& table, const std::string& text) {
    for (const std::string& comment : table.comments)
        if (comment.find(text) != std::string::npos) return true;
    return false;
}

}  // namespace

TEST_CASE("the logger's correction names its gauge and gives every row with uncertainty") {
    const report::Record record = test::sample_record();
    const auto text = report::correction_csv(record, in_english);
    REQUIRE(text.ok());
    const Table table = read(*text);
    CHECK(says(table, "EX-000123"));
    CHECK(says(table, "DEMO-2026-00042"));
    CHECK(says(table, "as found"));
    CHECK(says(table, "invented"));
    CHECK(says(table, "# formula: h(T) = "));
    CHECK(says(table, "# example: Worked example: "));
    CHECK(table.columns.size() == 8);
    REQUIRE(table.rows.size() == record.evaluation.correction->rows.size());
    for (std::size_t i = 0; i < table.rows.size(); ++i) {
        const auto& row = table.rows[i];
        const auto& truth = record.evaluation.correction->rows[i];
        REQUIRE(row.size() == table.columns.size());
        const double U = std::stod(row[3]);
        CHECK(U > 0);
        // Rounded once: within half of the last figure of U, which has two.
        CHECK(std::stod(row[2]) == Approx(truth.depth_mm.value).margin(U / 10));
        CHECK(std::stod(row[6]) == Approx(truth.factor).margin(std::stod(row[7]) / 10));
        CHECK(std::stod(row[0]) == Approx(truth.interval_s).epsilon(1e-5));
    }
}

TEST_CASE("a static check has no correction, and says why") {
    test::SampleOptions wish;
    wish.no_duration = true;
    const auto text = report::correction_csv(test::sample_record(wish), in_english);
    REQUIRE_FALSE(text.ok());
    CHECK(text.fault().line().find("no duration or rate was given") != std::string::npos);
}

TEST_CASE("the results table has one row for each step, empty where nothing is known") {
    test::SampleOptions wish;
    wish.intensities_mm_h = {2, 20, 200};
    Table table = read(report::results_csv(test::sample_record(wish), in_english));
    REQUIRE(table.rows.size() == 3);
    for (const auto& row : table.rows) CHECK(row.size() == table.columns.size());
    CHECK(table.rows[0][1] == "2");
    CHECK(table.rows[2][18] == "fail");
    CHECK(table.rows[2][table.rows[2].size() - 2] == "1");
    CHECK(table.rows[2].back() == "stated");
    CHECK(says(table, "class B"));

    wish.no_duration = true;
    wish.limit_percent = 0;
    table = read(report::results_csv(test::sample_record(wish), in_english));
    REQUIRE(table.rows.size() == 3);
    for (const auto& row : table.rows) {
        REQUIRE(row.size() == table.columns.size());
        CHECK(row[2].empty());
        CHECK(row[5].empty());
        CHECK_FALSE(row[13].empty());
        CHECK(row[18] == "no_limit");
    }
    CHECK(says(table, "limits: No limits were agreed"));
    CHECK(says(table, "SUPPLIED DATA"));
}

TEST_CASE("runs of repeated steps stand in a table of their own") {
    test::SampleOptions wish;
    wish.repeats = 5;
    const report::Record record = test::sample_record(wish);
    const Table steps = read(report::results_csv(record, in_english));
    CHECK(steps.rows[0][19] == "5");
    CHECK(steps.rows[0][20] == "3");
    const Table runs = read(report::runs_csv(record, in_english));
    REQUIRE(runs.rows.size() == 15);
    for (const auto& row : runs.rows) CHECK(row.size() == runs.columns.size());
    CHECK(runs.rows[0][2] == "no");
    CHECK(runs.rows[1][2] == "yes");
    CHECK(says(runs, "discarded"));
}

TEST_CASE("text from outside cannot break out of its comment line") {
    report::Record record = test::sample_record();
    record.identity.serial = "X\n0,0,0,0\r=cmd";
    const Table table = read(*report::correction_csv(record, in_english));
    CHECK(table.columns.front() == "interval_s");
    CHECK(table.rows.size() == record.evaluation.correction->rows.size());
}

TEST_CASE("a verdict that stands with reservation says so in its own cell, and why above it") {
    report::Record record = test::sample_record();
    record.evaluation.conformity.limits.confirmed = false;
    record.evaluation.conformity.overall = calib::Verdict::pass;
    for (auto& row : record.evaluation.conformity.steps) row.verdict = calib::Verdict::pass;
    report::state(record);
    REQUIRE(record.statement.verdict == calib::Claim::reserved);
    const Table table = read(report::results_csv(record, in_english));
    for (const auto& row : table.rows) CHECK(row[18] == "pass_reserved");
    CHECK(says(table, "# conformity: Meets the limits at the intensities tested, with reservation"));
    CHECK(says(table, "# reservation: The numbers of the limits were not confirmed"));
    // As 1.0 wrote it, for who checks such a table.
    const Table old = read(report::results_csv(record, in_english, report::TableForm::of_1_0));
    CHECK(old.comments.front() == "# tipwright results of each step");
    for (const auto& row : old.rows) CHECK(row[18] == "pass");
}

TEST_CASE("a table speaks the certificate's language, and names its columns in one for all") {
    const report::Record record = test::sample_record();
    for (const char* language : {"de", "fr", "es"}) {
        const auto other = test::sample_words(test::source_dir(), language);
        const auto text = report::correction_csv(record, other);
        REQUIRE(text);
        INFO(*text);
        const Table table = read(*text);
        CHECK(says(table, "# tipwright correction 1.1: " + other.text("tables.correction")));
        CHECK(says(table, other.text("mark.invented")));
        for (const char* english :
             {"gauge:", "example:", "Worked", "instead of", "calibrat", "correction for"})
            CHECK_FALSE(says(table, english));
        CHECK(table.columns.front() == "interval_s");
        CHECK(table.rows == read(*report::correction_csv(record, in_english)).rows);
    }
}

TEST_CASE("significant digits") {
    CHECK(report::significant(20, 6) == "20");
    CHECK(report::significant(0, 6) == "0");
    CHECK(report::significant(7.5, 6) == "7.5");
    CHECK(report::significant(1.23456789, 4) == "1.235");
    CHECK(report::significant(123456.7, 4) == "123457");
    CHECK(report::significant(0.000123456, 3) == "0.000123");
}
