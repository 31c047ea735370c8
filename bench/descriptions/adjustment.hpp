// What a gauge kind says of its stop screws and sides: its table [adjustment].
#pragma once

#include <optional>

#include "bench/descriptions/description_text.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/tips/sides.hpp"

namespace tipwright::bench {

struct StopScrews {
    std::optional<calib::Uncertain> mL_per_turn;
    std::optional<bool> clockwise_is_more;  // seen from above the screw: a turn that way lets more water in
    calib::SideMarks marks;                 // how people tell the sides apart
    char side_up = 0;  // 'A' or 'B': how the bucket is laid before each run; 0: asked each time
};

// Nothing of it where the kind file has no such table. Faults: those of reading TOML, with file, line and
// column.
Result<StopScrews> parse_stop_screws(const DescriptionText& kind_text);

}  // namespace tipwright::bench
