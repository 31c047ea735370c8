// NewestResult: what the collect in hand has shown so far, up to the newest tip that could close it. The run
// asks it to know when it may stop, the page to show it: both see the same.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "bench/run/step_tracker.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::bench {

struct NewestResult {
    std::size_t closing = 0;  // that tip
    calib::StepResult result;
};

struct CollectBasis {
    const StepTracker& tracker;
    const calib::Gauge& gauge;
    const calib::BenchMetrology& metrology;
    double coverage = calib::default_coverage;
};

// `measured`: the steps finished so far, whose scatter of tips counts too; left as it was. `looked_at`: the
// closing tip that was judged before. Nothing: no later tip could close it, or it cannot be computed.
std::optional<NewestResult> newest_result(const CollectBasis& basis,
                                          std::vector<calib::StepObservation>& measured, std::size_t opening,
                                          std::optional<std::size_t> looked_at, double now_s);

}  // namespace tipwright::bench
