// What the register knows of kinds of gauges: the records behind their issued certificates, and their years
// in service: how long, how often serviced and adjusted, what was found, how far errors drifted.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/register/register.hpp"
#include "report/trial/trial.hpp"

namespace tipwright::program {

struct RegisterTrial {
    std::vector<report::Record> records;
    std::vector<report::KindHistory> histories;
};

// kinds empty: all. today: ISO date up to which service counts.
Result<RegisterTrial> trial_from_register(report::Register& reg, const std::vector<std::string>& kinds,
                                          const std::string& today);

}  // namespace tipwright::program
