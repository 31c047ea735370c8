#include "bench/virtual_bench/errors.hpp"

#include <algorithm>

#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/streams.hpp"

namespace tipwright::bench {

namespace {
// Siphons of one kind differ by up to this; common practice, no source. Else every virtual gauge would have
// the same ratio of siphon to bucket, on which it depends how regularly tips are caught by its running dry.
constexpr double siphon_spread = 0.1;
}  // namespace

SystematicErrors draw_errors(const calib::Gauge& gauge, const BenchTruth& truth,
                             const calib::BenchMetrology& metrology, std::uint64_t seed) {
    Random dice(seed, stream::systematic_errors);
    const auto rectangular = [&dice](double half_width) { return dice.between(-half_width, half_width); };
    const auto drawn = [&dice](const calib::Uncertain& x) { return x.value + x.u * dice.student(x.dof); };
    const calib::BalanceMetrology& balance = metrology.balance;

    // The order is part of the contract "same seed, same bytes": new draws go last.
    SystematicErrors errors;
    errors.pump_scale_relative = rectangular(truth.pump_scale_spread_percent / 100);
    errors.balance_sensitivity_relative = balance.calibration_relative_u * dice.normal();
    errors.balance_sensitivity_relative += rectangular(balance.drift_relative_half_width);
    errors.balance_linearity_g = rectangular(balance.linearity_half_width_g);
    // Short beside the capacity, so that the two ends of a collect are nearly independent: the
    // difference of two readings then has the spread a / sqrt 3 that a budget gives it.
    errors.balance_linearity_period_g = balance.capacity_g * dice.between(0.05, 0.12);
    errors.balance_linearity_phase = dice.uniform();
    errors.balance_zero_drift_g_h = rectangular(balance.zero_drift_half_width_g_h);
    errors.evaporation_g_h = std::max(0.0, drawn(metrology.evaporation_g_h));
    errors.catch_diameter_mm = drawn(gauge.catch_diameter_mm);
    errors.counter_rate_relative = metrology.clock_relative_u * dice.normal();
    errors.counter_offset_s = dice.between(1, 5000);
    errors.water_temperature_offset_C = metrology.water_temperature_u_C * dice.normal();
    errors.air_temperature_offset_C = metrology.air_temperature_u_C * dice.normal();
    errors.air_pressure_offset_hPa = metrology.air_pressure_u_hPa * dice.normal();
    errors.relative_humidity_offset_percent = metrology.relative_humidity_u_percent * dice.normal();
    errors.balance_repeatability_g =
        balance.repeatability_g * dice.true_over_estimated(balance.repeatability_dof);
    errors.siphon_volume_relative = rectangular(siphon_spread);
    return errors;
}

GaugeTruth truth_of_one(const GaugeTruth& kind, const SystematicErrors& errors) {
    GaugeTruth one = kind;
    one.siphon_volume_mL *= 1 + errors.siphon_volume_relative;
    return one;
}

}  // namespace tipwright::bench
