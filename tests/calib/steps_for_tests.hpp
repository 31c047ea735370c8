// Steps of an invented gauge with known volume per tip, for tests of what is computed from steps.
#pragma once

#include <catch2/catch.hpp>
#include <vector>

#include "calib/rate/step_result.hpp"
#include "calib/weighing/water.hpp"
#include "calib/weighing/weighing.hpp"

namespace tipwright::test {

struct KnownGauge {
    double v0_mL = 6.2;
    double tau_s = 0.45;
    double a_excess_percent = 0;  // 0: sides not told apart
    calib::BenchMetrology bench;
    calib::Gauge gauge;

    KnownGauge() {
        gauge.nominal_tip_mm = 0.2;
        gauge.catch_diameter_mm = {200, 0.05, calib::infinite_dof};
        gauge.max_intensity_mm_h = 300;
    }

    double volume_mL(double intensity_mm_h) const {
        const double flow_mL_s = calib::flow_mL_min(intensity_mm_h, gauge.catch_area_cm2().value) / 60;
        return v0_mL + tau_s * flow_mL_s;
    }

    double error_percent(double intensity_mm_h) const {
        return 100 * (gauge.nominal_tip_mL() / volume_mL(intensity_mm_h) - 1);
    }

    // A collect without any error of measurement.
    calib::StepResult step(int number, double intensity_mm_h, int tips = 60) const {
        const double flow_mL_s = calib::flow_mL_min(intensity_mm_h, gauge.catch_area_cm2().value) / 60;
        calib::StepObservation observation;
        observation.step = number;
        observation.set_intensity_mm_h = intensity_mm_h;
        observation.tips = tips;
        const double volume = tips * volume_mL(intensity_mm_h);
        observation.duration_s = volume / flow_mL_s;
        const auto unit = [&](double reading_g) {
            calib::StepObservation probe = observation;
            probe.balance_difference_g = reading_g;
            return calib::evaluate_step(probe, gauge, bench)->volume_mL.value;
        };
        observation.balance_difference_g = volume * volume / unit(volume);
        observation.scatter = {0.5, static_cast<double>(tips - 1), "intervals"};
        if (a_excess_percent != 0)
            observation.compartments = calib::CompartmentBalance{a_excess_percent, 0.1, 58};
        const auto result = calib::evaluate_step(observation, gauge, bench);
        REQUIRE(result);
        return *result;
    }

    std::vector<calib::StepResult> steps(const std::vector<double>& intensities_mm_h) const {
        std::vector<calib::StepResult> result;
        for (const double intensity : intensities_mm_h) {
            result.push_back(step(static_cast<int>(result.size()) + 1, intensity));
        }
        return result;
    }
};

}  // namespace tipwright::test
