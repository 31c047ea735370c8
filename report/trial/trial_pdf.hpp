// The trial as a PDF: which choice the data support at each place, the mean gauge of each kind and what
// gauges lie apart, places with and without correction, probabilities, adjustment, years in service, costs,
// method.
#pragma once

#include <string>

#include "calib/base/fault.hpp"
#include "report/certificate/stationery.hpp"
#include "report/trial/trial.hpp"

namespace tipwright::report {

// Faults: bad_value (a letter the font lacks), those of the fonts.
Result<std::string> draw_trial(const Trial& trial, const Stationery& paper);

}  // namespace tipwright::report
