// Outliers of a sample by Rosner's generalised extreme Studentised deviate test, two-sided.
//   R_i = max |x - mean| / s of what is left,  i = 1 ... r
//   lambda_i = (n-i) t_{p,n-i-1} / sqrt((n-i-1 + t^2)(n-i+1)),  p = 1 - alpha / (2 (n-i+1))
// The number of outliers is the largest i with R_i > lambda_i, so that several do not hide each other.
// Source: Rosner, Technometrics 25 (1983) 165-172; NIST/SEMATECH e-Handbook of Statistical
// Methods 1.3.5.17.3. Domain: at least 5 finite values. Error: the false-alarm rate for normal samples is
// alpha within a fifth of it from n = 15 on (tests/figures/detector_figures.cpp).
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace tipwright::calib {

struct Outliers {
    std::vector<std::size_t> at;  // ascending
    double statistic = 0;         // R_i of the last one taken, or R_1 when there is none
    double threshold = 0;         // lambda_i beside it
};

// most: r, the largest number looked for; capped at a third of the sample.
Outliers find_outliers(std::span<const double> values, double alpha, std::size_t most);

}  // namespace tipwright::calib
