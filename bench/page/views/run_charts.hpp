// Charts of one run so far: the certificate's own (error against intensity with the limits, volume per tip
// with the fit so far) from the steps closed until now, and the last minutes of weight and tips.
#pragma once

#include "bench/page/live/live_run.hpp"
#include "bench/page/views/run_screens.hpp"
#include "report/certificate/drawing.hpp"

namespace tipwright::page {

// Nothing to draw gives none. `prefix` begins the ids within the pictures.
std::vector<std::pair<std::string, std::string>> step_charts(const LiveRun& run, const PageWords& words,
                                                             report::certificate::Drawing& measure,
                                                             const std::string& prefix);
std::string minutes_chart(const LiveRun& run, const PageWords& words, report::certificate::Drawing& measure,
                          const std::string& prefix);

}  // namespace tipwright::page
