// Contributions to uncertainty that know what they have in common: the one place where covariance, variance
// and degrees of freedom of results come from, within a step, between steps, runs, gauges and years.
//   u^2(L) = sum over i, j of c_i c_j r_ij      r_ij = 0 for different causes, else g(at_i, at_j)
//   g(a, b) = exp(-(ln(a/b))^2 / (2 w^2)), w = 0.25: the error of an instrument is alike at neighbouring
//   readings and unrelated far from them (common practice, no source); 1 where `at` is 0: alike everywhere.
// A Gaussian of a difference is a positive definite function (Bochner), so every matrix made of these is a
// covariance. Degrees of freedom: Welch-Satterthwaite (JCGM 100:2008 G.4.1), each estimate of a standard
// deviation counted once however many contributions rest on it. Units: those of the result.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "calib/base/uncertain.hpp"

namespace tipwright::calib {

struct Contribution {
    std::string cause;     // identity of the one unknown deviation; never empty
    std::string estimate;  // identity of the estimate its standard deviation comes from; empty: the cause
    double size = 0;       // sensitivity times standard uncertainty, signed
    double dof = infinite_dof;
    double at = 0;  // reading of the instrument it belongs to, > 0; 0: alike everywhere
};
using Contributions = std::vector<Contribution>;

double likeness(double at_a, double at_b);
double covariance(std::span<const Contribution> a, std::span<const Contribution> b);
// Standard uncertainty and effective degrees of freedom of their sum.
Uncertain combined(double value, std::span<const Contribution> parts);
// parts * factor, appended to `sum`: a linear combination of results.
void add_scaled(Contributions& sum, std::span<const Contribution> parts, double factor);

}  // namespace tipwright::calib
