// ErrorCurve: error of indication over reference intensity, as the register keeps it of each record, and
// drift between two of them. Between two intensities the error is taken as linear in the logarithm of the
// intensity; outside the measured range nothing is said. En = d / sqrt(U1^2 + U2^2) (ISO 13528:2022
// clause 9.6, from memory).
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "report/register/entries.hpp"

namespace tipwright::report {

struct ErrorPoint {
    double reference_mm_h = 0;
    double error_percent = 0;
    double U_percent = 0;
};
using ErrorCurve = std::vector<ErrorPoint>;  // ascending intensity

// Steps of a static check, which have no intensity, are left out.
ErrorCurve error_curve(const calib::Evaluation& evaluation);
// "20.03 -1.234 0.450;..." as kept in the database.
std::string curve_text(const ErrorCurve& curve);
ErrorCurve curve_from_text(std::string_view text);

// The curve at an intensity; nothing more than 5 % outside its range.
std::optional<ErrorPoint> at_intensity(const ErrorCurve& curve, double reference_mm_h);
// later - earlier where it is largest; nothing when the two have no intensity in common.
std::optional<Drift> drift_between(const ErrorCurve& earlier, const ErrorCurve& later,
                                   const std::string& since);

}  // namespace tipwright::report
