// What a gauge kind says of its stop screws: [adjustment] with mL_per_turn and its standard uncertainty.
#pragma once

#include <optional>

#include "bench/descriptions/description_text.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"

namespace tipwright::bench {

// Nothing when the kind file has no such table. Faults: those of reading TOML, with file, line and column.
Result<std::optional<calib::Uncertain>> parse_mL_per_turn(const DescriptionText& kind_text);

}  // namespace tipwright::bench
