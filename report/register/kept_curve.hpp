// KeptCurve: error of indication over reference intensity as text beside each record in the register, for
// pictures, lists and the search for gauges that moved. It knows nothing of what two records have in common:
// drift and En come from the records themselves (calib/decision/drift.hpp). Between two intensities the error
// is taken as linear in the logarithm of the intensity.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "report/record/record.hpp"

namespace tipwright::report {

struct KeptPoint {
    double reference_mm_h = 0;
    double error_percent = 0;
    double U_percent = 0;
};
using KeptCurve = std::vector<KeptPoint>;  // ascending intensity

// Steps of which nothing is stated are left out, and those of a static check, which have no intensity.
KeptCurve kept_curve(const Record& record);
// "20.03 -1.234 0.450;..." as kept in the database.
std::string curve_text(const KeptCurve& curve);
KeptCurve curve_from_text(std::string_view text);

// The curve at an intensity; nothing more than 5 % outside its range.
std::optional<KeptPoint> at_intensity(const KeptCurve& curve, double reference_mm_h);

}  // namespace tipwright::report
