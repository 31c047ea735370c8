#include "bench/virtual_bench/balance_physics.hpp"

#include <algorithm>
#include <cmath>

#include "bench/virtual_bench/portable_math.hpp"
#include "bench/virtual_bench/pump_physics.hpp"

namespace tipwright::bench {

namespace {
// Draughts and temperature move a balance over tens of seconds, not from one print to the next.
constexpr double wander_time_constant_s = 20;
constexpr double stable_window_s = 1;
// Range of the last readings, in display steps or noise deviations, up to which they count as stable.
constexpr double stable_steps = 2.5;
constexpr double stable_deviations = 5;
}  // namespace

BalancePhysics::BalancePhysics(const BenchTruth& truth, const calib::BalanceMetrology& metrology,
                               const SystematicErrors& errors, double step_s, Random dice)
    : resolution_g_(metrology.resolution_g),
      capacity_g_(metrology.capacity_g),
      noise_g_(truth.balance_noise_g),
      wander_time_s_(wander_time_constant_s),
      stable_range_g_(std::max(stable_steps * resolution_g_, stable_deviations * noise_g_)),
      sensitivity_(1 + errors.balance_sensitivity_relative),
      linearity_g_(errors.balance_linearity_g),
      linearity_period_g_(errors.balance_linearity_period_g),
      linearity_phase_(errors.balance_linearity_phase),
      zero_drift_g_s_(errors.balance_zero_drift_g_h / 3600),
      follows_(1 - portable_exp(-step_s / std::max(truth.balance_filter_s, 1e-3))),
      rate_hz_(truth.balance_rate_hz),
      dice_(dice),
      filtered_g_(truth.vessel_g) {
    // Quick noise and slow wander share in what the true repeatability is more or less than the stated one.
    const double repeatability_g = errors.balance_repeatability_g;
    if (metrology.repeatability_g > 0) noise_g_ *= repeatability_g / metrology.repeatability_g;
    const double rest =
        repeatability_g * repeatability_g - noise_g_ * noise_g_ - resolution_g_ * resolution_g_ / 12;
    wander_g_ = std::sqrt(std::max(0.0, rest));
    wander_now_g_ = wander_g_ * dice_.normal();
}

double BalancePhysics::gross_g(double time_s) {
    if (wander_g_ > 0 && time_s > wandered_at_s_) {
        const double remembers = portable_exp(-(time_s - wandered_at_s_) / wander_time_s_);
        wander_now_g_ =
            remembers * wander_now_g_ + std::sqrt(1 - remembers * remembers) * wander_g_ * dice_.normal();
        wandered_at_s_ = time_s;
    }
    const double linearity =
        linearity_g_ * parabolic_wave(filtered_g_ / linearity_period_g_ + linearity_phase_);
    return filtered_g_ * sensitivity_ + linearity + zero_drift_g_s_ * time_s + wander_now_g_ +
           noise_g_ * dice_.normal();
}

BalanceDisplay BalancePhysics::show(double time_s) {
    if (frozen_) return last_;
    const double gross = gross_g(time_s);
    const double net = gross - tare_g_;
    BalanceDisplay display;
    display.over = !(gross <= capacity_g_ + 9 * resolution_g_);
    display.steps = static_cast<std::int64_t>(std::floor(net / resolution_g_ + 0.5));

    const auto window = std::clamp(static_cast<std::size_t>(std::lround(stable_window_s * rate_hz_)),
                                   std::size_t{2}, recent_g_.size());
    recent_g_[shown_ % recent_g_.size()] = gross;
    ++shown_;
    if (shown_ >= window) {
        double low = gross;
        double high = gross;
        for (std::size_t i = 1; i <= window; ++i) {
            const double reading = recent_g_[(shown_ - i) % recent_g_.size()];
            low = std::min(low, reading);
            high = std::max(high, reading);
        }
        display.stable = high - low <= stable_range_g_;
    }
    last_ = display;
    return display;
}

// A tare takes the weight of the moment, to the display step as balances do.
void BalancePhysics::tare(double time_s) {
    tare_g_ = std::floor(gross_g(time_s) / resolution_g_ + 0.5) * resolution_g_;
}

}  // namespace tipwright::bench
