#include "calib/rain/depth_curve.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calib/rate/correction.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

Gauge bucket() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.15};
    return gauge;
}

RateModel line(double v0, double tau) {
    RateModel model;
    model.chosen = RateForm::line;
    model.flow_min_mL_s = 0.05;
    model.flow_max_mL_s = 2.5;
    RateCandidate fit;
    fit.form = RateForm::line;
    fit.parameters = {{v0, 0.01, 50}, {tau, 0.008, 50}};
    fit.covariance = {{1e-4, -4e-5}, {-4e-5, 6.4e-5}};
    model.candidates = {fit};
    return model;
}

}  // namespace

TEST_CASE("depth curve: the line's closed form h = V0/A T/(T - tau)", "[rain]") {
    const Gauge gauge = bucket();
    const double area = gauge.catch_area_cm2().value;
    const auto curve = DepthCurve::make(line(6.1, 0.45), gauge);
    REQUIRE(curve);
    constexpr double look_up = 1e-6;  // relative, of the table
    for (const double t : {2.7, 3.0, 5.0, 12.0, 60.0, 600.0, 40000.0})
        CHECK(curve->at(t).mm == Approx(10 * 6.1 / area * t / (t - 0.45)).epsilon(look_up));
    CHECK(curve->rim_relative_u() == Approx(2 * 0.15 / 200));
}

TEST_CASE("depth curve: modes are the sensitivities by finite differences", "[rain]") {
    const Gauge gauge = bucket();
    const double t = 4.0;
    const auto curve = DepthCurve::make(line(6.1, 0.45), gauge);
    REQUIRE(curve);
    const auto depth = [&](double v0, double tau) {
        return DepthCurve::make(line(v0, tau), gauge)->at(t).mm;
    };
    const double by_v0 = (depth(6.1 + 1e-3, 0.45) - depth(6.1 - 1e-3, 0.45)) / 2e-3;
    const double by_tau = (depth(6.1, 0.45 + 1e-4) - depth(6.1, 0.45 - 1e-4)) / 2e-4;
    const double variance = by_v0 * by_v0 * 1e-4 + by_tau * by_tau * 6.4e-5 + 2 * by_v0 * by_tau * -4e-5;
    double sum = 0;
    for (const double mode : curve->at(t).modes) sum += mode * mode;
    CHECK(std::sqrt(sum) == Approx(std::sqrt(variance)).epsilon(1e-3));
    // As depth_mm() has it, which the certificate's table prints.
    std::vector<StepResult> steps(1);
    const auto printed = depth_mm(line(6.1, 0.45), steps, gauge, t);
    REQUIRE(printed);
    CHECK(curve->at(t).mm == Approx(printed->value).epsilon(1e-6));
    for (const double none : {0.0, -1.0, std::nan("")}) {
        const auto refused = depth_mm(line(6.1, 0.45), steps, gauge, none);
        CHECK(refused.fault().code == FaultCode::bad_value);
        CHECK(refused.fault().what == "a tip interval must be positive");
    }
    CHECK(std::hypot(std::sqrt(sum), curve->at(t).mm * curve->rim_relative_u()) ==
          Approx(printed->u).epsilon(2e-3));
}

TEST_CASE("depth curve: a model without covariance is refused, a constant one is flat", "[rain]") {
    RateModel model = line(6.1, 0.45);
    model.candidates[0].covariance.clear();
    CHECK_FALSE(DepthCurve::make(model, bucket()));
    // What two parameters vary together cannot be more than each alone; parameters known exactly vary not at
    // all.
    model.candidates[0].covariance = {{1e-4, 2e-4}, {2e-4, 1e-4}};
    CHECK(DepthCurve::make(model, bucket()).fault().code == FaultCode::bad_covariance);
    model.candidates[0].covariance = {{0, 0}, {0, 0}};
    const auto exact = DepthCurve::make(model, bucket());
    REQUIRE(exact);
    for (const double mode : exact->at(5).modes) CHECK(mode == 0);
    RateModel flat;
    flat.chosen = RateForm::constant;
    flat.flow_min_mL_s = 0.05;
    flat.flow_max_mL_s = 2;
    RateCandidate fit;
    fit.form = RateForm::constant;
    fit.parameters = {{6.2, 0.02, 30}};
    fit.covariance = {{4e-4}};
    flat.candidates = {fit};
    const auto curve = DepthCurve::make(flat, bucket());
    REQUIRE(curve);
    CHECK(curve->at(5).mm == Approx(curve->at(5000).mm));
    CHECK(curve->dof() == 30);
}

TEST_CASE("depth curve: a table keeps its ends, less surely the further the rate is from them", "[rain]") {
    // On one straight line, so that between the rates nothing is open: v = 5.9 mL + 0.2 s Q.
    const Gauge gauge = bucket();
    const double area = gauge.catch_area_cm2().value;
    RateModel table;
    table.chosen = RateForm::table;
    table.flow_min_mL_s = 0.5;
    table.flow_max_mL_s = 2.5;
    constexpr double u = 0.02;
    for (const double flow : {0.5, 1.0, 1.5, 2.0, 2.5})
        table.points.push_back({flow, {5.9 + 0.2 * flow, u, 40}});
    const auto curve = DepthCurve::make(table, gauge);
    REQUIRE(curve);
    CHECK(curve->dof() == 40);
    const auto open = [&](double interval_s) { return curve->at(interval_s).modes[curve_modes - 1]; };
    // At a rate: the table's own u, and the larger flow of a larger volume.
    const double interval_s = 6.2 / 1.5;
    CHECK(curve->at(interval_s).mm == Approx(10 * 6.2 / area).epsilon(1e-6));
    CHECK(open(interval_s) == Approx(10 * u / area / (1 - 0.2 / interval_s)).epsilon(0.01));
    // At no flow at all: the first volume, with the step to the straight continuation as half-width
    // (JCGM 100:2008 4.3.7).
    const double rest_s = 1e9;
    CHECK(curve->at(rest_s).mm == Approx(10 * 6.0 / area).epsilon(1e-6));
    CHECK(open(rest_s) == Approx(10 * std::hypot(u, 0.2 * 0.5 / std::sqrt(3.0)) / area).epsilon(1e-3));
}
