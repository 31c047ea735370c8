// Every table that a run leaves is judged by the record beside it: its own, changed, or worded by another
// version.
#include <catch2/catch.hpp>

#include "bench/program/results/file_kind.hpp"
#include "bench/program/results/table_check.hpp"
#include "bench/program/version.hpp"
#include "report/tables/tables.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using program::match_table;
using program::TableMatch;

namespace {

std::vector<report::certificate::Words> languages() {
    std::vector<report::certificate::Words> out;
    for (const char* language : {"en", "de", "fr", "es"})
        out.push_back(test::sample_words(test::source_dir(), language));
    return out;
}

// With a letter more in the line that says what kind of document it is.
std::string worded_otherwise(std::string text, const report::certificate::Words& words) {
    const std::string mark = words.text("mark.invented");
    const std::size_t at = text.find(mark);
    REQUIRE(at != std::string::npos);
    return text.insert(at, "x");
}

std::string with_another_number(std::string text) {
    const std::size_t at = text.find_last_of("0123456789");
    text[at] = text[at] == '7' ? '8' : '7';
    return text;
}

}  // namespace

TEST_CASE("every table of a run follows from its record in every language, and not when it was changed") {
    test::SampleOptions wish;
    wish.repeats = 5;
    report::Record record = test::sample_record(wish);
    const auto words = languages();
    for (const report::RunTable& table : report::run_tables()) {
        INFO(table.name);
        for (const auto& one : words) {
            INFO(one.language());
            record.program_version = program::version();
            const std::string text = *table.text(record, one, report::TableForm::current);
            CHECK(program::kind_of_bytes(text) == program::FileKind::table);
            CHECK(match_table(record, text, words) == TableMatch::follows);
            CHECK(match_table(record, worded_otherwise(text, one), words) == TableMatch::differs);
            CHECK(match_table(record, with_another_number(text), words) == TableMatch::differs);
            record.program_version = "1.0.9";
            CHECK(match_table(record, worded_otherwise(text, one), words) == TableMatch::only_numbers);
            CHECK(match_table(record, with_another_number(text), words) == TableMatch::differs);
        }
    }
}
