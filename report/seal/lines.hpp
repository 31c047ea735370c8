// Reading of the small line-based files of the seal, with the place of each fault.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::seal {

class LineReader {
public:
    LineReader(std::string_view text, std::string name) : text_(text), name_(std::move(name)) {}
    // To the next line; false at the end. Every line must end with a line feed.
    bool next();
    std::string_view line() const { return line_; }
    // Words parted by single spaces.
    std::vector<std::string> words() const;
    Fault fault(FaultCode code, std::string what) const;

private:
    std::string_view text_;
    std::string name_;
    std::string_view line_;
    int number_ = 0;
};

}  // namespace tipwright::seal
