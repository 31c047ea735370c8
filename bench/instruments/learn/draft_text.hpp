// Draft text: what was learned as the text of a profile, the reason beside each line. Internal to learn/.
#pragma once

#include <string>
#include <vector>

#include "bench/instruments/learn/learn.hpp"

namespace tipwright::bench {

struct ReadingDraft {
    std::string pattern;
    bool stable = false;
    bool overload = false;
    bool has_unit = false;
    std::string said_unit;
    std::string reason;
    std::string example;  // a line of it
    std::size_t count = 0;
};

struct DraftParts {
    const LearnRequest* request = nullptr;
    char decimal_sign = '.';
    std::string ends_with;
    double period_s = 0;  // from line to line
    std::vector<ReadingDraft> readings;
    std::vector<std::string> doubts;
};

std::string draft_text(const DraftParts& parts);

}  // namespace tipwright::bench
