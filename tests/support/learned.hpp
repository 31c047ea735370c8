// Learned: a draft learned from a made-up balance, held against what the balance means by later lines.
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/profile.hpp"
#include "tests/support/made_up_balances.hpp"

namespace tipwright::test {

// Empty when right; else what went wrong first.
inline std::string read_wrongly(const MadeUpBalance& balance, const std::string& toml,
                                const std::vector<std::string>& doubts, std::uint64_t seed) {
    if (doubts.empty() != balance.tells_rest())
        return std::to_string(doubts.size()) + " doubts: " + (doubts.empty() ? "" : doubts.front());
    const auto profile = bench::parse_profile({"draft", toml});
    if (!profile) return profile.fault().line();
    const auto family = profile->of<bench::LineAsciiProfile>();
    bench::Random dice(seed, 2);
    for (int i = 0; i < 500; ++i) {
        const double value = i % 5 == 0 ? 20 * dice.uniform() - 10 : 4000 * dice.uniform() - 200;
        const bool stable = dice.happens(0.5);
        const bool over = dice.happens(0.1);
        const std::string line = balance.line(value, stable && !over, over, 5000 + i);
        bench::WeightReading reading;
        const bench::WeightLine kind = bench::read_weight(family->weights, line, reading);
        const bench::WeightLine wanted = over ? bench::WeightLine::overload : bench::WeightLine::reading;
        if (kind != wanted) return "\"" + line + "\" is not understood\n" + toml;
        if (over) continue;
        if (!(std::fabs(reading.mass_g - balance.shown_g(value)) < 1e-6))
            return "\"" + line + "\" is read as " + std::to_string(reading.mass_g) + " g\n" + toml;
        if (reading.stable != (stable && balance.tells_rest()))
            return "\"" + line + "\" at rest or not?\n" + toml;
    }
    return "";
}

}  // namespace tipwright::test
