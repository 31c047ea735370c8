// What corrected rain rests on: the gauge's calibrations in order of time, from records, from certificates,
// or from the register by the gauge's serial number.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/program/register/session.hpp"
#include "calib/rain/rain_meter.hpp"
#include "report/rain/rain_report.hpp"

namespace tipwright::program {

struct RainBasis {
    std::vector<calib::RainCalibration> reigns;
    calib::RainGauge gauge;
    double debounce_s = 0;
};

// `named`: files, or serial numbers of the register. Notes in `report` what it took. Of a certificate with an
// as-found record both records count; of the register what was issued and not replaced.
// Faults: file_missing (neither a file nor a gauge of the register), missing_field (no correction in it),
// inconsistent (of two gauges), those of reading.
Result<RainBasis> rain_basis(const std::vector<std::string>& named, const Session& session,
                             report::RainReport& report);

// Seconds since 1970 of an ISO date, with time of day or without; nothing when it is none.
std::optional<double> moment_s(const std::string& iso);

}  // namespace tipwright::program
