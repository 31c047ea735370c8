// Do values that follow each other know of each other? By von Neumann's ratio of the mean square successive
// difference to the variance (Ann. Math. Stat. 12 (1941) 367), and what a dependence does to the standard
// deviation of their mean.
//   ratio = sum (x_{i+1} - x_i)^2 / sum (x_i - mean)^2       independent: mean 2, variance 4(n-2)/(n^2-1)
//   s(mean) = s/sqrt(n) sqrt((1 + r)/(1 - r))                r: correlation of neighbours (first order
//   autoregressive; Bayley and Hammersley, J. R. Stat. Soc. Suppl. 8 (1946) 184, from memory)
// Unit: any.
#pragma once

#include <span>

namespace tipwright::calib {

// 2 for fewer than four values, or values that are all alike.
double von_neumann_ratio(std::span<const double> values);

// Correlation of neighbours by that ratio, without its bias; 0 for fewer than eight values.
double neighbour_correlation(std::span<const double> values);

// How many times the standard deviation of the mean of independent values it is; 1 unless r, found of n
// values, is beyond what independent ones reach nine times in ten. A test at 95 % would miss a third of what
// matters of a step's few tips.
double widening_by_dependence(double r, double n);

}  // namespace tipwright::calib
