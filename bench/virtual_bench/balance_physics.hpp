// BalancePhysics: what the display of a balance shows of a load that changes. First-order filter, then
// sensitivity, linearity, zero drift, slow wander and noise, then rounding to the display step. Grams.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "bench/virtual_bench/errors.hpp"
#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::bench {

struct BalanceDisplay {
    std::int64_t steps = 0;  // net weight in display steps
    bool stable = false;
    bool over = false;  // beyond capacity: no weight
};

class BalancePhysics {
public:
    BalancePhysics(const BenchTruth& truth, const calib::BalanceMetrology& metrology,
                   const SystematicErrors& errors, double step_s, Random dice);

    // One fixed step towards the load, in grams as an error-free balance shows them.
    void follow(double load_g) { filtered_g_ += (load_g - filtered_g_) * follows_; }
    // Draws the next reading.
    BalanceDisplay show(double time_s);
    void tare(double time_s);
    // Fault: repeats its last reading from now on.
    void freeze() { frozen_ = true; }

private:
    double gross_g(double time_s);

    double resolution_g_;
    double capacity_g_;
    double noise_g_;
    double wander_g_;  // standard deviation; with noise and rounding it makes the repeatability
    double wander_time_s_;
    double stable_range_g_;
    double sensitivity_;
    double linearity_g_;
    double linearity_period_g_;
    double linearity_phase_;
    double zero_drift_g_s_;
    double follows_;
    double rate_hz_;
    Random dice_;

    double filtered_g_;
    double tare_g_ = 0;
    double wander_now_g_;
    double wandered_at_s_ = 0;
    std::array<double, 16> recent_g_{};  // last readings, for the stable flag
    std::size_t shown_ = 0;
    bool frozen_ = false;
    BalanceDisplay last_;
};

}  // namespace tipwright::bench
