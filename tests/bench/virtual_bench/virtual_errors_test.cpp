#include "bench/virtual_bench/errors.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/distributions/uniform.hpp>
#include <catch2/catch.hpp>

#include "tests/bench/virtual_kinds.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr int seeds = 4000;
// Kolmogorov-Smirnov statistic times sqrt n: above 1.95 in one case in a thousand. The seeds are fixed,
// so the test always gives the same answer.
constexpr double ks_limit = 1.95;

std::vector<double> over_seeds(const std::function<double(const SystematicErrors&)>& pick,
                               const calib::Gauge& gauge, const calib::BenchMetrology& metrology) {
    std::vector<double> sample;
    for (int seed = 1; seed <= seeds; ++seed) {
        sample.push_back(pick(draw_errors(gauge, BenchTruth{}, metrology, static_cast<std::uint64_t>(seed))));
    }
    std::sort(sample.begin(), sample.end());
    return sample;
}

template <class Distribution>
double ks(const std::vector<double>& sorted, const Distribution& distribution, double scale,
          double centre = 0) {
    const auto n = static_cast<double>(sorted.size());
    double largest = 0;
    for (std::size_t i = 0; i < sorted.size(); ++i) {
        const double p = cdf(distribution, (sorted[i] - centre) / scale);
        largest = std::max({largest, p - static_cast<double>(i) / n, static_cast<double>(i + 1) / n - p});
    }
    return largest * std::sqrt(n);
}

}  // namespace

TEST_CASE("every systematic error has the distribution the bench's budget states") {
    calib::Gauge gauge = test::make_gauge(0.2, 200, 2, 2);
    gauge.catch_diameter_mm = {200.1, 0.08, 4};
    calib::BenchMetrology metrology;
    metrology.evaporation_g_h = {0.5, 0.05, calib::infinite_dof};
    const boost::math::normal normal;
    const boost::math::uniform rectangular(-1, 1);
    const auto drawn = [&](const std::function<double(const SystematicErrors&)>& pick) {
        return over_seeds(pick, gauge, metrology);
    };
    using E = SystematicErrors;
    CHECK(ks(drawn([](const E& e) { return e.pump_scale_relative; }), rectangular, 0.04) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.balance_linearity_g; }), rectangular, 0.02) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.balance_zero_drift_g_h; }), rectangular, 0.02) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.evaporation_g_h; }), normal, 0.05, 0.5) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.catch_diameter_mm; }), boost::math::students_t(4), 0.08, 200.1) <
          ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.counter_rate_relative; }), normal, 2e-5) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.water_temperature_offset_C; }), normal, 0.3) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.air_temperature_offset_C; }), normal, 0.5) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.air_pressure_offset_hPa; }), normal, 2) < ks_limit);
    CHECK(ks(drawn([](const E& e) { return e.relative_humidity_offset_percent; }), normal, 5) < ks_limit);

    CHECK(ks(drawn([](const E& e) { return e.siphon_volume_relative; }), rectangular, 0.1) < ks_limit);
    // What is known of the true repeatability from one estimated with 9 degrees of freedom.
    const double s = metrology.balance.repeatability_g;
    CHECK(ks(drawn([&](const E& e) { return 9 * std::pow(s / e.balance_repeatability_g, 2); }),
             boost::math::chi_squared(9), 1) < ks_limit);

    // Sensitivity: calibration (normal) and drift (rectangular) one at a time.
    calib::BenchMetrology no_drift = metrology;
    no_drift.balance.drift_relative_half_width = 0;
    calib::BenchMetrology no_calibration = metrology;
    no_calibration.balance.calibration_relative_u = 0;
    const auto sensitivity = [](const E& e) { return e.balance_sensitivity_relative; };
    CHECK(ks(over_seeds(sensitivity, gauge, no_drift), normal, 1e-5) < ks_limit);
    CHECK(ks(over_seeds(sensitivity, gauge, no_calibration), rectangular, 2e-5) < ks_limit);
}

TEST_CASE("evaporation is never negative, and no error is drawn from zero widths") {
    const calib::Gauge gauge = test::make_gauge(0.2, 200, 2, 2);
    calib::BenchMetrology metrology;
    metrology.evaporation_g_h = {0.01, 0.1, calib::infinite_dof};
    const auto rates =
        over_seeds([](const SystematicErrors& e) { return e.evaporation_g_h; }, gauge, metrology);
    CHECK(rates.front() == 0);
    CHECK(rates.back() > 0.2);

    BenchTruth bench;
    bench.pump_scale_spread_percent = 0;
    calib::Gauge exact = gauge;
    exact.catch_diameter_mm.u = 0;
    const SystematicErrors none = draw_errors(exact, bench, test::perfect_metrology(), 5);
    CHECK(none.balance_sensitivity_relative == 0);
    CHECK(none.balance_linearity_g == 0);
    CHECK(none.balance_zero_drift_g_h == 0);
    CHECK(none.pump_scale_relative == 0);
    CHECK(none.counter_rate_relative == 0);
    CHECK(none.catch_diameter_mm == 200);
}
