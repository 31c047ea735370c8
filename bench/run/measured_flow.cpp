#include "bench/run/measured_flow.hpp"

#include "calib/rate/step_result.hpp"

namespace tipwright::bench {

std::optional<calib::Uncertain> measured_flow_mL_min(const StepTracker& tracker, const calib::Gauge& gauge,
                                                     const calib::BenchMetrology& metrology, double coverage,
                                                     double from_s, double now_s) {
    const auto& tips = tracker.tips();
    std::optional<std::size_t> opening;
    std::optional<std::size_t> closing;
    for (std::size_t k = 0; k < tips.size(); ++k) {
        if (tips[k].time_s < from_s || !tracker.may_be_edge(k, now_s)) continue;
        if (!opening) {
            opening = k;
        } else if (tracker.readings_reach(*opening, k)) {
            closing = k;
        }
    }
    if (!opening || !closing) return std::nullopt;
    auto observation = tracker.observe(*opening, *closing);
    if (!observation) return std::nullopt;
    auto result = calib::evaluate_step(*observation, gauge, metrology, coverage);
    if (!result || !result->flow_mL_min) return std::nullopt;
    return result->flow_mL_min;
}

}  // namespace tipwright::bench
