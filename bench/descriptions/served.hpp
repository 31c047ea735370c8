// Served: what the description of a served bench says of how it is served, in its [virtual] table: times as
// fast as the wall clock, and the moment at which runs on it begin.
#pragma once

#include <optional>
#include <string>

#include "bench/descriptions/description_text.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct Served {
    std::optional<double> speed;
    std::string started_at;  // 2026-11-02T08:00:00Z; empty: not said
};

// Both absent where the bench is not served, or has no such table. Faults: those of reading TOML.
Result<Served> parse_served(const DescriptionText& bench_text);

}  // namespace tipwright::bench
