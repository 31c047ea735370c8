#include "bench/virtual_bench/water_path.hpp"

#include <algorithm>
#include <limits>

#include "bench/virtual_bench/portable_math.hpp"

namespace tipwright::bench {

namespace {
// A blocked funnel holds this much before it runs over its rim.
constexpr double funnel_capacity_mL = 800;
// Mean of the clinging drop in multiples of its standard deviation: seldom cut off at nothing.
constexpr double clinging_mean = 3;
constexpr double shortest_lag_s = 1e-3;
// An emptying store never ends; below this it has ended.
constexpr double least_store_mL = 1e-12;
}  // namespace

InletPath::InletPath(const GaugeTruth& truth, double step_s)
    : wetting_mL_(truth.wetting_mL),
      lag_s_(std::max(truth.funnel_lag_s, shortest_lag_s)),
      step_s_(step_s),
      stays_(portable_exp(-step_s / lag_s_)),
      largest_outflow_mL_s_(std::numeric_limits<double>::infinity()) {}

double InletPath::step(double in_mL) {
    if (in_mL > 0 && kept_mL_ < wetting_mL_) {
        // The drier the surfaces, the more of the water they keep.
        const double dryness = 1 - kept_mL_ / wetting_mL_;
        const double kept = std::min(in_mL * dryness, wetting_mL_ - kept_mL_);
        kept_mL_ += kept;
        in_mL -= kept;
    }
    if (in_mL == 0 && store_mL_ == 0) return 0;
    const double full = in_mL / step_s_ * lag_s_;  // where the store tends to
    const double had = store_mL_;
    store_mL_ = full + (had - full) * stays_;
    if (in_mL == 0 && store_mL_ < least_store_mL) store_mL_ = 0;
    double out = had + in_mL - store_mL_;
    const double passes = largest_outflow_mL_s_ * step_s_;
    if (out > passes) {
        store_mL_ += out - passes;
        out = passes;
        if (store_mL_ > funnel_capacity_mL) {
            spilled_mL_ += store_mL_ - funnel_capacity_mL;
            store_mL_ = funnel_capacity_mL;
        }
    }
    return std::max(0.0, out);
}

DrainPath::DrainPath(const GaugeTruth& truth, double clinging_u_mL, double step_s, Random dice)
    : delay_s_(truth.drain_delay_s),
      lag_s_(std::max(truth.drain_lag_s, shortest_lag_s)),
      step_s_(step_s),
      stays_(portable_exp(-step_s / lag_s_)),
      clinging_u_mL_(clinging_u_mL),
      dice_(dice) {}

double DrainPath::step(double time_s, double splashed_mL) {
    if (waiting_.empty() && splashed_mL == 0 && store_mL_ == 0) return 0;
    const double had = store_mL_ + splashed_mL;
    double left = had * stays_;
    double out = had - left;
    const double end = time_s + step_s_;
    std::size_t arrived = 0;
    for (; arrived < waiting_.size(); ++arrived) {
        const double due = waiting_[arrived].time_s + delay_s_;
        if (due > end) break;
        const double brought = clinging_mL_ + waiting_[arrived].volume_mL;
        clinging_mL_ = std::clamp(clinging_u_mL_ * (clinging_mean + dice_.normal()), 0.0, brought);
        const double poured = brought - clinging_mL_;
        const double stays = portable_exp(-(end - std::max(due, time_s)) / lag_s_);
        left += poured * stays;
        out += poured - poured * stays;
    }
    if (arrived > 0)
        waiting_.erase(waiting_.begin(), waiting_.begin() + static_cast<std::ptrdiff_t>(arrived));
    store_mL_ = left < least_store_mL ? 0 : left;
    return out + (left - store_mL_);
}

double DrainPath::holds_mL() const {
    double sum = clinging_mL_ + store_mL_;
    for (const Discharge& discharge : waiting_) sum += discharge.volume_mL;
    return sum;
}

}  // namespace tipwright::bench
