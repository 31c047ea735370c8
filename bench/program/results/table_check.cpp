#include "bench/program/results/table_check.hpp"

#include <sstream>

#include "bench/program/version.hpp"
#include "report/pack/formula_text.hpp"
#include "report/tables/tables.hpp"

namespace tipwright::program {

std::string without_seal_line(const std::string& bytes) {
    const std::size_t before = bytes.size() < 2 ? std::string::npos : bytes.rfind('\n', bytes.size() - 2);
    if (before == std::string::npos || bytes.compare(before + 1, 22, "# tipwright-file-seal ") != 0)
        return bytes;
    return bytes.substr(0, before + 1);
}

namespace {

// 1.0 gave its tables no number of their form.
report::TableForm form_of(const std::string& bytes) {
    for (const char* first :
         {"# tipwright correction for ", "# tipwright results of ", "# tipwright runs of "})
        if (bytes.starts_with(first)) return report::TableForm::of_1_0;
    return report::TableForm::current;
}

std::string table_of(const report::Record& record, const std::string& bytes,
                     const report::certificate::Words& words) {
    const report::RunTable* table = report::run_table_of(bytes);
    if (table == nullptr) return "";
    const auto text = table->text(record, words, form_of(bytes));
    return text ? *text : "";
}

std::string rows_of(const std::string& text) {
    const report::RunTable* table = report::run_table_of(text);
    std::string out;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);)
        if (table == nullptr || !table->is_head(line)) out += line + "\n";
    return out;
}

// Up to the label of the third line: the heading, and "document" in its language.
std::string beginning_of(const std::string& formula) {
    return formula.substr(0, formula.find(": ") + 2);
}

}  // namespace

TableMatch match_formula(const report::Record& record, const std::string& bytes,
                         const std::vector<report::certificate::Words>& languages) {
    bool any = false;
    for (const auto& words : languages) {
        const std::string formula = report::formula_text(record, words);
        if (formula == bytes) return TableMatch::follows;
        any = any || bytes.starts_with(beginning_of(formula));
    }
    return any && record.program_version == version() ? TableMatch::differs : TableMatch::no_such_table;
}

bool rows_follow(const report::Record& record, const std::string& bytes,
                 const report::certificate::Words& words) {
    const std::string table = table_of(record, bytes, words);
    return !table.empty() && rows_of(table) == rows_of(bytes);
}

TableMatch match_table(const report::Record& record, const std::string& bytes,
                       const std::vector<report::certificate::Words>& languages) {
    bool any = false;
    for (const auto& words : languages) {
        const std::string table = table_of(record, bytes, words);
        if (table == bytes) return TableMatch::follows;
        any = any || !table.empty();
    }
    if (!any) return TableMatch::no_such_table;
    // The sentences of 1.0 are kept in the program.
    const bool words_kept =
        record.program_version == version() || form_of(bytes) == report::TableForm::of_1_0;
    return !words_kept && rows_follow(record, bytes, languages.front()) ? TableMatch::only_numbers
                                                                        : TableMatch::differs;
}

}  // namespace tipwright::program
