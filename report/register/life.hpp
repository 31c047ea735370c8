// Life of a gauge as data: what happened to it, in order of time. What the program itself says of an event is
// an id with numbers and names; its sentence comes last, from life_words.hpp (terminal, JSON) or from the
// words of a language (page). Numbers carry their unit in their name.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace tipwright::report {

struct LifeNumber {
    std::string name;
    double value = 0;
    int decimals = 2;
    bool with_sign = false;  // a plus too
};

// One thing said of an event.
struct LifePart {
    std::string id;    // of a sentence; empty: somebody's own words, in `text`
    std::string text;  // those words
    std::vector<LifeNumber> numbers = {};
    std::vector<std::pair<std::string, std::string>> names = {};  // days, numbers of certificates, persons
    bool goes_on = false;  // belongs to the part before it: "120 tips, error ..."
};

struct LifeEvent {
    std::string serial;
    std::string model;
    std::string on;           // ISO date
    std::string what;         // "measured", "adjusted", "field check", ...
    std::string certificate;  // its number; empty: about none
    std::vector<LifePart> parts;
};

using Life = std::vector<LifeEvent>;

}  // namespace tipwright::report
