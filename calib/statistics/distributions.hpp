// Quantiles and probabilities of the normal, Student, chi-squared and F distributions.
// By Boost.Math: outside what this project exists for, a well-kept library is better than own code.
// Errors: below 1e-12 relative against the GNU Scientific Library, 1e-16 absolute in the far tails
// (tests/calib/statistics/distributions_test.cpp).
#pragma once

namespace tipwright::calib {

double normal_cumulative(double z);
double normal_quantile(double p);                 // 0 < p < 1
double student_cumulative(double t, double dof);  // dof > 0, may be infinite
double student_quantile(double p, double dof);
double student_two_sided(double coverage, double dof);  // t_p(nu) of JCGM 100 table G.2
double chi_squared_cumulative(double x, double dof);
double chi_squared_quantile(double p, double dof);
// Of Fisher and Snedecor's F; dof_below may be infinite: chi-squared over its degrees of freedom.
double fisher_quantile(double p, double dof_above, double dof_below);
double fisher_cumulative(double x, double dof_above, double dof_below);

}  // namespace tipwright::calib
