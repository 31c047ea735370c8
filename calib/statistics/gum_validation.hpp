// JCGM 101:2008 clause 8.1: whether the Monte Carlo interval confirms y +- U of the GUM framework, as
// validate_gum() of calib/statistics/monte_carlo.hpp found it. Units: those of y.
#pragma once

namespace tipwright::calib {

struct GumValidation {
    double tolerance = 0;
    double d_low = 0;    // |y - U - y_low|
    double d_high = 0;   // |y + U - y_high|
    bool valid = false;  // both within the tolerance
};

}  // namespace tipwright::calib
