// Interpreter: what a profile makes of the bytes of a link, in words, and where it makes nothing of them,
// why. For people who write a profile. It only looks on: the instrument's own device does the asking.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

struct Meaning {
    bool understood = false;
    std::string text;  // "12.34 g, stable, shown to 0.01 g"
    // When not understood: what was looked for, and where it stopped fitting. What differs from line to line
    // stands behind ", the line", so that the rest is told once.
    std::vector<std::string> hints;
};

class Interpreter {
public:
    virtual ~Interpreter() = default;
    // Bytes as they go over the link, in any pieces. Meanings of what is whole now.
    virtual std::vector<Meaning> sent(std::string_view bytes) = 0;
    virtual std::vector<Meaning> came(std::string_view bytes) = 0;
};

// Of any family.
std::unique_ptr<Interpreter> make_interpreter(const InstrumentProfile& profile);

}  // namespace tipwright::bench
