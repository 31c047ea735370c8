// The error curve of a record, for the drift of its gauge (calib/decision/drift.hpp). Steps of which nothing
// is stated are left out.
#pragma once

#include <optional>

#include "calib/decision/comparison.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

// Nothing where what is stated is no curve (a static check, one rate).
std::optional<calib::ErrorCurve> stated_curve(const Record& record);

}  // namespace tipwright::report
