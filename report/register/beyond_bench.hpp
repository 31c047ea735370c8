// What the register keeps of a gauge that no bench of ours measured: calibrations that others made and gave
// out under their own number, and checks in the field. Neither is ever taken for a calibration of ours: no
// drift, no share within limits, no certificate rests on them. Dates are ISO text; intensities mm/h, errors
// %, U at k = 2 or as said.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "report/register/entries.hpp"

namespace tipwright::report {

struct ElsewhereCalibration {
    Id id = 0;
    Id gauge = 0;
    Id person = 0;  // who entered it
    std::string calibrated_on;
    std::string certificate;  // the other laboratory's number
    std::string laboratory;
    std::string points;  // a KeptCurve as text; empty: only date and number are known
};

struct FieldCheckEntry {
    Id id = 0;
    Id gauge = 0;
    Id person = 0;  // who entered it
    std::string made_on;
    std::string made_by;
    std::string method;  // "poured" or "collected"
    std::int64_t tips = 0;
    std::optional<double> volume_mL;
    std::optional<double> volume_U_mL;
    std::optional<double> intensity_mm_h;
    std::optional<double> error_percent;
    std::optional<double> U_percent;
    std::optional<double> coverage_factor;
    std::optional<double> limit_percent;
    std::string verdict;       // "pass", "fail", "undecided"; empty: no limit
    std::string accepted_for;  // why a result that cannot well be was kept
    std::string note;
};

}  // namespace tipwright::report
