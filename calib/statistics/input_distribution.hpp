// InputDistribution: what is known of one input quantity, as a distribution to draw from.
// JCGM 101:2008 clause 6.4, table 1. Unit: that of the quantity.
#pragma once

#include <limits>
#include <span>

#include "calib/statistics/random_lanes.hpp"

namespace tipwright::calib {

enum class InputShape {
    normal,       // 6.4.7: expectation, standard deviation
    student,      // 6.4.9: expectation, scale s/sqrt(n), degrees of freedom
    rectangular,  // 6.4.2
    triangular,   // 6.4.5
};

struct InputDistribution {
    InputShape shape = InputShape::normal;
    double expectation = 0;
    double scale = 0;  // standard deviation, scale of t, or half-width
    double dof = std::numeric_limits<double>::infinity();

    // Infinite for Student's t with two or fewer degrees of freedom.
    double standard_deviation() const;
};

InputDistribution normal_input(double expectation, double standard_deviation);
// With infinite degrees of freedom the normal distribution.
InputDistribution student_input(double expectation, double scale, double dof);
InputDistribution rectangular_input(double expectation, double half_width);
InputDistribution triangular_input(double expectation, double half_width);

// Fills `out` (a multiple of random_block_step, at most random_block) with draws.
void draw(const InputDistribution& input, RandomLanes& random, std::span<double> out);

}  // namespace tipwright::calib
