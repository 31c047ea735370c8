// What the balance of a bench shows with its empty vessel on it: empty_g of [vessel], or what a virtual bench
// puts there. Read anew from the description's text, for the few who ask.
#pragma once

#include <optional>

#include "bench/descriptions/descriptions.hpp"

namespace tipwright::bench {

// Of a bench that was read without a fault. Nothing: nobody said.
std::optional<double> vessel_empty_g(const BenchDescription& bench);

}  // namespace tipwright::bench
