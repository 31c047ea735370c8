// Lanes: which gauges are calibrated side by side, each on a bench of its own. Errors name file, line,
// column.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "bench/descriptions/description_text.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

inline constexpr std::size_t lanes_max = 16;

struct LaneDescription {
    std::string name;  // letters, digits, - and _; also its folder
    std::string bench;
    std::string gauge;
    std::string plan;
    bool as_left = false;
    std::uint64_t seed = 1;  // of a virtual bench
};

struct LanesDescription {
    std::string title;
    std::vector<LaneDescription> lanes;
};

Result<LanesDescription> parse_lanes(const DescriptionText& text);
// A file, or the name of one in the folder lanes/ of the templates. Files it names beside itself are found
// there.
Result<LanesDescription> load_lanes(const std::string& file_or_name, const std::filesystem::path& templates);

}  // namespace tipwright::bench
