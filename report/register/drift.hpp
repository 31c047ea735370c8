// Drift of a gauge over stretches of service: the error as found at the end of each, less the error as left
// at its beginning, added up; where it is largest. U and En of it leave alone what the records have in common
// (rim, balance as it was calibrated, ...): calib/decision/comparison.hpp. En = d / U(d) (ISO 13528:2022
// clause 9.6, from memory). Steps of which nothing is stated are left out.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/decision/comparison.hpp"
#include "report/record/record.hpp"
#include "report/register/entries.hpp"

namespace tipwright::report {

// Of what is stated of a record; nothing where that is no curve (a static check, one rate).
std::optional<calib::ErrorCurve> stated_curve(const Record& record);

struct Stretch {
    calib::ErrorCurve left;   // as left, or as last found, at its beginning
    calib::ErrorCurve found;  // as found at its end
    std::string since;        // date of its beginning
};

// At the intensities of the last as-found curve, each as far back as the curves reach. Stretches from the
// newest on. Nothing where they have no intensity in common.
std::optional<Drift> drift_over(const std::vector<Stretch>& stretches);

}  // namespace tipwright::report
