// The tables that a run leaves beside its record: which there are, of which record, and how each is known
// again. Who writes them and who checks them walk the one list.
#pragma once

#include <span>
#include <string_view>

#include "report/tables/correction_csv.hpp"

namespace tipwright::report {

struct RunTable {
    std::string_view name;        // for people and machines: "results"
    std::string_view file;        // in the run's folder: "results.csv"
    std::string_view first_line;  // how its first line begins, and no other file's: "# tipwright results "
    bool (*is_of)(const Record& record);
    // Fault inconsistent: a record it is not of.
    Result<std::string> (*text)(const Record& record, const certificate::Words& words, TableForm form);
    // A line of its head, in words of a version and a language; the rest are columns and numbers.
    bool (*is_head)(std::string_view line);
};

// In the order in which they are written and named.
std::span<const RunTable> run_tables();

// The one that begins so; null: none does.
const RunTable* run_table_of(std::string_view bytes);

}  // namespace tipwright::report
