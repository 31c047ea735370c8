#include "calib/rain/siphon_line.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/rain/depth_curve.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

constexpr double siphon_mL = 15, tail_percent = 15, mean_flow = 1.37;
constexpr double v_end_mL = 6.389, siphon_flow_mL_s = 3.2;

Gauge siphon() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.15};
    gauge.inlet = Inlet::siphon;
    gauge.siphon_volume_mL = siphon_mL;
    gauge.siphon_tail_percent = tail_percent;
    gauge.max_intensity_mm_h = 300;
    return gauge;
}

// As ten rates give it: a constant passes, the slope is seen within 0.0066 s.
RateModel calibrated(double mean_volume_mL, double seen_slope_s, double slope_u = 0.0066) {
    RateModel model;
    model.chosen = RateForm::constant;
    model.flow_min_mL_s = 0.05;
    model.flow_max_mL_s = 2.2;
    const double u = 0.0056, slope_variance = slope_u * slope_u;
    RateCandidate constant, line;
    constant.form = RateForm::constant;
    constant.parameters = {{mean_volume_mL, u, 69}};
    constant.covariance = {{u * u}};
    line.form = RateForm::line;
    const double rest_variance = u * u + mean_flow * mean_flow * slope_variance;
    line.parameters = {{mean_volume_mL - seen_slope_s * mean_flow, std::sqrt(rest_variance), 69},
                       {seen_slope_s, slope_u, 69}};
    line.covariance = {{rest_variance, -mean_flow * slope_variance},
                       {-mean_flow * slope_variance, slope_variance}};
    model.candidates = {constant, line};
    return model;
}

// Emptyings one by one, water of each through the bucket; mean volume per tip.
double simulated_mL(double flow_mL_s, double volume_mL, std::mt19937_64& dice) {
    std::normal_distribution<double> starts(1, 0.04), scatter(1, 0.004);
    const double fall_mL = tail_percent / 100 * v_end_mL;
    const double rest_mL = v_end_mL - fall_mL;
    double poured = 0, held = 0, threshold = rest_mL;
    int tips = 0;
    for (int i = 0; i < 20000; ++i) {
        double left = volume_mL * starts(dice) * siphon_flow_mL_s / (siphon_flow_mL_s - flow_mL_s);
        poured += left;
        while (left >= threshold - held) {
            left -= threshold - held;
            held = 0;
            ++tips;
            threshold = rest_mL * scatter(dice);
            left -= fall_mL;
            if (left <= 0) break;  // caught by the end
        }
        if (left > 0) held += left;
    }
    return poured / tips;
}

}  // namespace

TEST_CASE("siphon line: emptyings simulated one by one follow it", "[rain]") {
    // Siphons of one kind differ; each alone is caught more or less regularly than evenly.
    std::mt19937_64 dice(15);
    const auto mean_of = [&](double flow) {
        double sum = 0;
        for (int i = 0; i < 20; ++i) sum += simulated_mL(flow, siphon_mL * (0.905 + 0.01 * i), dice);
        return sum / 20;
    };
    const double at_mean = mean_of(mean_flow);
    const auto line = siphon_line(calibrated(at_mean, 0, 1), siphon());
    REQUIRE(line);
    // Relative: siphons that differ by a tenth either way still do not end quite evenly.
    constexpr double simulation = 5e-4;
    for (const double flow : {0.05, 0.3, 2.4}) {
        const double simulated = mean_of(flow);
        INFO(flow << " mL/s: simulated " << simulated << ", line " << line->volume_at(flow).value);
        CHECK(line->volume_at(flow).value == Approx(simulated).epsilon(simulation));
    }
    // A constant is off by more than three times that where it rains.
    CHECK(at_mean / mean_of(0.05) - 1 > 3 * simulation);
}

TEST_CASE("siphon line: what was measured stays, what was seen of the slope counts by its variance",
          "[rain]") {
    const double calculated = std::pow(tail_percent / 100 * 6.37, 2) / 2 / siphon_mL * 0.75 / 2.618;
    const auto blind = siphon_line(calibrated(6.37, 0.05, 1), siphon());
    REQUIRE(blind);
    CHECK(blind->parameters[1].value == Approx(calculated).epsilon(1e-3));
    CHECK(blind->volume_at(mean_flow).value == Approx(6.37));
    CHECK(blind->volume_at(mean_flow).u == Approx(0.0056));
    const double u = blind->parameters[1].u;
    CHECK(u == Approx(calculated * std::hypot(1 / (3 * std::sqrt(3.0)), 0.4 / 3)).epsilon(1e-3));
    CHECK(blind->volume_at(0).u == Approx(std::hypot(0.0056, mean_flow * u)));
    // Seen as well as calculated: half-way, and better known.
    const auto both = siphon_line(calibrated(6.37, 0.05, u), siphon());
    CHECK(both->parameters[1].value == Approx((calculated + 0.05) / 2).epsilon(1e-3));
    CHECK(both->parameters[1].u == Approx(u / std::sqrt(2.0)).epsilon(1e-3));

    Gauge other = siphon();
    other.inlet = Inlet::straight;
    CHECK_FALSE(siphon_line(calibrated(6.37, 0), other));
    other = siphon();
    other.siphon_tail_percent = 0;
    CHECK_FALSE(siphon_line(calibrated(6.37, 0), other));
    RateModel table = calibrated(6.37, 0);
    table.chosen = RateForm::table;
    CHECK_FALSE(siphon_line(table, siphon()));
}

TEST_CASE("depth curve: a siphon's constant is the mean over its rates, rain comes at the lowest", "[rain]") {
    const RateModel model = calibrated(6.37, 0);
    const auto curve = DepthCurve::make(model, siphon());
    const auto line = siphon_line(model, siphon());
    REQUIRE(curve);
    const double per_mL = 10 / siphon().catch_area_cm2().value;
    CHECK(curve->mm_at(6.37 / mean_flow) == Approx(6.37 * per_mL).epsilon(1e-6));
    CHECK(curve->mm_at(1e9) == Approx(line->parameters[0].value * per_mL).epsilon(1e-6));
    CHECK(curve->mm_at(1e9) < 0.9985 * 6.37 * per_mL);
    double squares = 0;
    for (const double mode : curve->at(1e9).modes) squares += mode * mode;
    CHECK(std::sqrt(squares) == Approx(line->parameters[0].u * per_mL).epsilon(1e-6));
    CHECK(curve->dof() == 69);
}
