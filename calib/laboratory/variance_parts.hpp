// Variance parts: what repeating, the day, the bench and the operator each add to the spread of one check
// gauge's results. Factors may be nested (days within benches) or crossed, with unequal numbers.
// Method: sums of squares of factors fitted one after the other, set equal to their expectations (Henderson
// 1953, method 3; of balanced nested data the same as ISO 5725-3:2023 and as REML where no part is negative):
//   E[SS_k] = sum over j >= k of s_j^2 tr(Z_j' (P_k - P_k-1) Z_j) + s_r^2 (rank_k - rank_k-1)
// Intervals (95 %): Ting, Burdick, Graybill, Jeyaratnam & Lu 1990, without the cross terms (modified large
// sample; from memory); coverage in tests/figures/laboratory_figures.cpp.
// Unit: that of the values. Domain: up to 2000 values, all finite.
// Faults: too_few_points (nothing is left for repeating), bad_value (lists of unequal length), not_finite.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::calib {

struct VarianceFactor {
    std::string name;
    std::vector<int> level;  // of each value; any numbers
};

struct VariancePart {
    std::string name;  // of the factor; the last part is "repeat"
    int levels = 0;
    double dof = 0;  // of its mean square
    double mean_square = 0;
    double variance = 0;  // as it comes out, perhaps below 0
    double sd = 0;        // 0 where the variance is below 0
    double low_sd = 0;    // of the interval
    double high_sd = 0;
};

struct VarianceParts {
    std::vector<VariancePart> parts;    // in the order given, then "repeat"
    std::vector<std::string> left_out;  // factors that cannot be told from those before, or have one level
    double mean = 0;
    double total_sd = 0;   // sqrt of the sum: intermediate precision, ISO 5725-3
    double total_dof = 0;  // Welch-Satterthwaite
};

Result<VarianceParts> part_variances(const std::vector<double>& values,
                                     const std::vector<VarianceFactor>& factors);

}  // namespace tipwright::calib
