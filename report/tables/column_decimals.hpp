// How many decimals the columns of a record's tables have, on paper and in the digital certificate alike
// (calib/base/rounding.hpp: decimals_of_column).
#pragma once

#include <vector>

#include "calib/rate/correction.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::report {

struct StepDecimals {
    int set = 0;        // of the intensity as set: what the finest needs
    int reference = 0;  // of the reference intensity
    int indicated =
        0;  // counted and timed, not weighed: four figures of the smallest, and as many as reference
    int flow = 0;
    int volume = 0;
    int sides = 0;  // of the volume per tip of each compartment
    int error = 0;
    int repeat_reference = 0;  // of the single runs of repeated steps
    int repeat_volume = 0;
    int repeat_error = 0;
};
StepDecimals decimals_of(const std::vector<calib::StepResult>& steps, double coverage);

struct CorrectionDecimals {
    int depth = 0;
    int corrected = 0;
    int factor = 0;
};
CorrectionDecimals decimals_of(const calib::Correction& correction, double coverage);

}  // namespace tipwright::report
