// A step of a check gauge's run: its error, with a budget of one component.
#pragma once

#include "calib/rate/step_result.hpp"

namespace tipwright::test {

inline calib::StepResult check_gauge_step(double intensity_mm_h, double error_percent) {
    calib::StepResult out;
    out.observation.set_intensity_mm_h = intensity_mm_h;
    out.error_percent = {error_percent, 0.1, calib::infinite_dof};
    calib::BudgetComponent one;
    one.u = 0.1;
    one.dlnv = 0.01;
    out.budget = {one};
    return out;
}

}  // namespace tipwright::test
