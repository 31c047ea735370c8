// CheckTable: what was checked, what was found, what was allowed. Printed with aligned columns, or as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "bench/program/common_options.hpp"

namespace tipwright::program {

enum class CheckVerdict { ok, told, skipped, accepted, failed };

struct CheckRow {
    std::string instrument;
    std::string check;
    std::string found;
    std::string allowed;  // empty: nothing to compare with
    CheckVerdict verdict = CheckVerdict::ok;
};

class CheckTable {
public:
    void add(CheckRow row) { rows_.push_back(std::move(row)); }
    bool any_failed() const;
    void print() const;
    nlohmann::ordered_json json() const;
    // "balance: noise; pump: delivers".
    std::string failed_ones() const;
    // Rows of an instrument together, instruments in the order in which they came first.
    std::vector<CheckRow> grouped() const;

private:
    std::vector<CheckRow> rows_;
};

// As the terminal shows it.
const char* word_of(CheckVerdict verdict);

}  // namespace tipwright::program
