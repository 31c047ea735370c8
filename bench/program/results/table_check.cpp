#include "bench/program/results/table_check.hpp"

#include "report/certificate/finding_words.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::program {

std::string without_seal_line(const std::string& bytes) {
    const std::size_t before = bytes.size() < 2 ? std::string::npos : bytes.rfind('\n', bytes.size() - 2);
    if (before == std::string::npos || bytes.compare(before + 1, 22, "# tipwright-file-seal ") != 0)
        return bytes;
    return bytes.substr(0, before + 1);
}

namespace {

std::string table_of(const report::Record& record, const std::string& bytes,
                     const report::Sentences& reservations) {
    if (bytes.starts_with("# tipwright correction ")) {
        const auto table = report::correction_csv(record, reservations);
        return table ? *table : "";
    }
    if (bytes.starts_with("# tipwright results ")) return report::results_csv(record, reservations);
    return bytes.starts_with("# tipwright runs ") ? report::runs_csv(record, reservations) : "";
}

}  // namespace

TableMatch match_table(const report::Record& record, const std::string& bytes,
                       const std::vector<report::certificate::Words>& languages) {
    bool any = false;
    for (const auto& words : languages) {
        const std::string table =
            table_of(record, bytes, report::certificate::reservation_sentences(words, record));
        if (table == bytes) return TableMatch::follows;
        any = any || !table.empty();
    }
    return any ? TableMatch::differs : TableMatch::no_such_table;
}

}  // namespace tipwright::program
