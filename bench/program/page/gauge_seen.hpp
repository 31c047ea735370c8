// What the register knows of one gauge, as the page shows it: at the door, when it is put on, and its whole
// life. Nothing: no gauge of that serial number, or more than one.
#pragma once

#include <string>

#include "bench/page/desk/desk.hpp"

namespace tipwright::report {
class Register;
}

namespace tipwright::program {

struct CommonOptions;

Result<page::GaugeAtDoor> gauge_at_door(const CommonOptions& common, report::Register& reg,
                                        const std::string& serial);
// With the curves of its newest calibrations, those made elsewhere among them, oldest first.
Result<page::LifeOfGauge> life_of_gauge(const CommonOptions& common, report::Register& reg,
                                        const std::string& serial);

}  // namespace tipwright::program
