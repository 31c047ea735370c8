#include "bench/program/instruments/check_table.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/joined.hpp"

#include <algorithm>
#include <cstdio>
#include <iterator>
#include <nlohmann/json.hpp>

namespace tipwright::program {

namespace {

constexpr const char* verdict_words[] = {"ok", "-", "skipped", "accepted", "FAILED"};

}  // namespace

const char* word_of(CheckVerdict verdict) {
    return verdict_words[static_cast<int>(verdict)];
}

bool CheckTable::any_failed() const {
    return std::any_of(rows_.begin(), rows_.end(),
                       [](const CheckRow& row) { return row.verdict == CheckVerdict::failed; });
}

std::vector<CheckRow> CheckTable::grouped() const {
    std::vector<std::string> order;
    for (const CheckRow& row : rows_) {
        if (std::find(order.begin(), order.end(), row.instrument) == order.end())
            order.push_back(row.instrument);
    }
    std::vector<CheckRow> rows;
    for (const std::string& instrument : order)
        std::copy_if(rows_.begin(), rows_.end(), std::back_inserter(rows),
                     [&](const CheckRow& row) { return row.instrument == instrument; });
    return rows;
}

void CheckTable::print() const {
    std::size_t check_width = 5;
    std::size_t found_width = 5;
    for (const CheckRow& row : rows_) {
        check_width = std::max(check_width, row.check.size());
        // One long line, a fault, must not push all columns apart.
        if (row.found.size() <= 44) found_width = std::max(found_width, row.found.size());
    }
    const auto line = [&](const std::string& instrument, const std::string& check, const char* verdict,
                          const std::string& found, const std::string& allowed) {
        print_to(stdout, "%-9s  %-*s  %-8s  %-*s%s%s\n", instrument.c_str(), static_cast<int>(check_width),
                 check.c_str(), verdict, allowed.empty() ? 0 : static_cast<int>(found_width), found.c_str(),
                 allowed.empty() ? "" : "  ", allowed.c_str());
    };
    line("", "check", "", "found", "allowed");
    std::string before;
    for (const CheckRow& row : grouped()) {
        line(row.instrument == before ? "" : row.instrument, row.check, word_of(row.verdict),
             visible(row.found), row.allowed);
        before = row.instrument;
    }
}

nlohmann::ordered_json CheckTable::json() const {
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (const CheckRow& row : grouped()) {
        list.push_back({{"instrument", row.instrument},
                        {"check", row.check},
                        {"verdict", row.verdict == CheckVerdict::failed ? "failed"
                                    : row.verdict == CheckVerdict::told ? "told"
                                                                        : word_of(row.verdict)},
                        {"found", row.found},
                        {"allowed", row.allowed}});
    }
    return list;
}

std::string CheckTable::failed_ones() const {
    std::string text;
    for (const CheckRow& row : rows_) {
        if (row.verdict == CheckVerdict::failed) add_part(text, row.instrument + ": " + row.check);
    }
    return text;
}

}  // namespace tipwright::program
