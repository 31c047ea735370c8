// Correction: what a logger multiplies a tip with. h(T) = V0/A T/(T - tau) for the line, and its
// like for the other forms, as depth per tip over tip interval and over indicated intensity.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/rate/rate_model.hpp"

namespace tipwright::calib {

struct CorrectionRow {
    double interval_s = 0;                // T
    double indicated_intensity_mm_h = 0;  // 3600 h_n / T
    Uncertain depth_mm;                   // h(T)
    Uncertain corrected_intensity_mm_h;   // 3600 h(T) / T
    double factor = 1;                    // h(T) / h_n
    double factor_U = 0;                  // expanded
};

struct Correction {
    std::string formula;  // plain text, with the numbers in it
    std::string worked_example;
    std::vector<CorrectionRow> rows;  // over the range of the fit
    double interval_min_s = 0;        // shortest interval it holds for
    double interval_max_s = 0;
};

// No U of a depth is below the laboratory's capability at its intensity, where one is stated.
Result<Correction> derive_correction(const RateModel& model, const std::vector<StepResult>& steps,
                                     const Gauge& gauge, double coverage = default_coverage,
                                     const std::vector<CapabilityPoint>& capability = {});

// Depth of one tip that came interval_s after the one before it. Fault: out of range -> bad_value.
Result<Uncertain> depth_mm(const RateModel& model, const std::vector<StepResult>& steps, const Gauge& gauge,
                           double interval_s);

}  // namespace tipwright::calib
