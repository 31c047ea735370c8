// Reading: what readers of TOML and of tables share: places in a text, ranges, and a list of faults from
// which the most helpful one is reported.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "calib/base/dates.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/text.hpp"

namespace tipwright::bench {

// Allowed range, both ends included; written so that NaN fails.
struct NumberRange {
    double low = 0;
    double high = 0;
    std::string_view unit;  // for messages, may be empty
};

class FaultList {
public:
    explicit FaultList(std::string file) : file_(std::move(file)) {}
    void add(FaultCode code, TextPosition at, std::string what, std::string remedy);
    bool empty() const { return noted_.empty(); }
    std::size_t size() const { return noted_.size(); }
    // The one to report. Only if not empty.
    Fault first() const;

private:
    struct Noted {
        TextPosition at;
        Fault fault;
    };
    std::string file_;
    std::vector<Noted> noted_;
};

// Shortest decimal that reads back as the same number.
std::string shortest(double value);
// A text as TOML writes it, between quotes; what does not show stands there as it is shown to people.
std::string toml_quoted(const std::string& text);

// What is wrong with a number outside its range, and a remedy when its unit seems mistaken.
std::pair<std::string, std::string> out_of_range(std::string_view name, double value, NumberRange range);

}  // namespace tipwright::bench
