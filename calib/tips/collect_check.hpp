// Collect check: everything calib/tips/contacts.hpp and calib/tips/tip_checks.hpp can say about one collect,
// in one call. Each detector speaks at its own stated false-alarm rate.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/tips/contacts.hpp"
#include "calib/tips/finding.hpp"
#include "calib/tips/observation.hpp"
#include "calib/tips/observe.hpp"
#include "calib/tips/tips.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::calib {

struct CollectEvidence {
    std::span<const Tip> tips;  // with the collect from opening to closing among them
    std::size_t opening = 0;
    std::size_t closing = 0;
    std::span<const WeightPoint> weights;
    std::array<std::vector<Edge>, max_contacts> edges;  // of contact 1, 2; may reach beyond the collect
};

std::vector<Finding> check_collect(const CollectEvidence& evidence, const StepObservation& observation,
                                   const Gauge& gauge, const BenchMetrology& bench,
                                   double false_alarm_rate = default_false_alarm_rate);

}  // namespace tipwright::calib
