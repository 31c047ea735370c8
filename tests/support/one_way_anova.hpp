// Analysis of variance of one factor: sums of squares between and within levels, F, and the standard
// deviations of repeatability and between levels.
//   SS_b = sum n_i (m_i - m)^2    SS_w = sum (y - m_i)^2    F = MS_b / MS_w
//   s_r^2 = MS_w    s_L^2 = (MS_b - MS_w) / n'    n' = (N - sum n_i^2 / N) / (p - 1)     (ISO 5725-2:2019,
//   7.4.5; n' for unequal numbers)
// Unit: that of the values, squared. Domain: two levels or more, more values than levels, all finite.
// Sums are carried with twice the digits: against NIST StRD, SiRstv and SmLs01 to 06 to 1e-9 relative, 07 to
// 09 (13 leading digits in common, so that the values themselves are no better) to 2e-3
// (tests/calib/laboratory/one_way_anova_test.cpp). Faults: too_few_points, not_finite.
#pragma once

#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::calib {

struct OneWayAnova {
    int levels = 0;
    int values = 0;
    double mean = 0;
    double between_squares = 0;
    double within_squares = 0;
    double between_dof = 0;
    double within_dof = 0;
    double between_mean_square = 0;
    double within_mean_square = 0;
    double F = 0;             // infinite when all values of each level are alike
    double p = 1;             // probability of such an F or a greater one, were all levels alike
    double values_level = 0;  // n'

    double repeatability_sd() const;  // s_r
    double between_variance() const;  // s_L^2 as it comes out, perhaps below 0
    double between_sd() const;        // s_L, 0 where the variance is below 0
};

Result<OneWayAnova> one_way_anova(const std::vector<std::vector<double>>& levels);

}  // namespace tipwright::calib
