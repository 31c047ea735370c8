// A place's rain, and what gauges cost: TOML files, templates/sites/README.md. The rain is given in one of
// five ways: a table of exceedances in a CSV, exceedances as rows, a law with its parameters, a CSV of
// 1-minute intensities, a CSV of tips. Files named in a description lie beside it. Faults name file and line.
#pragma once

#include <filesystem>
#include <string>

#include "calib/base/fault.hpp"
#include "calib/trial/costs.hpp"
#include "calib/trial/rain_climate.hpp"

namespace tipwright::bench {

struct SiteDescription {
    std::string title;
    std::string source;  // where its numbers come from
    calib::trial::RainClimate climate;
    bool adjacent_assumed = false;  // of the order of the minutes nothing is known
};

// A file, or the name of one in templates/sites.
Result<SiteDescription> load_site(const std::string& file_or_name, const std::filesystem::path& templates);

// "2031-05-04T10:11" or with seconds, T or a blank, Z or nothing after it: seconds since 1970. Fault: syntax.
Result<double> seconds_of(std::string_view text);

Result<calib::trial::Costs> load_costs(const std::filesystem::path& file);

}  // namespace tipwright::bench
