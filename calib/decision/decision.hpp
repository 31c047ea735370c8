// Decision rules and their risks: conformance probability, guard bands, specific and global risk.
// Source: JCGM 106:2012 clauses 7 (probability), 8 (acceptance intervals), 9 (consumer's and producer's
// risk); ILAC-G8:09/2019 clause 4 and table 1 (guard bands). Units: those of the measured quantity, the same
// for value, limits, guard band and prior. Faults: bad_value (limits the wrong way round, uncertainty not
// above zero, a prior that is no density).
#pragma once

#include <functional>
#include <limits>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"

namespace tipwright::calib {

// Both limits belong to it. One-sided: leave the other infinite.
struct ToleranceInterval {
    double low = -std::numeric_limits<double>::infinity();
    double high = std::numeric_limits<double>::infinity();

    bool contains(double value) const { return value >= low && value <= high; }
};

// Probability that the true value lies within the limits, given the measurement (JCGM 106 clause 7.2 to 7.5):
// normal, or Student's t scaled by u where the degrees of freedom are finite.
double conformance_probability(const Uncertain& measured, const ToleranceInterval& tolerance);

// w = u z(1 - p): at the acceptance limit the chance of a nonconforming item is p at most (JCGM 106
// clause 8.3.2).
// Student's t with the degrees of freedom of u.
double guard_band_for_specific_risk(double u, double probability, double dof = infinite_dof);

// Largest chance of a false acceptance for a result at the acceptance limit, w = times_U x k x u.
double specific_risk_bound(double times_U, double k, double dof = infinite_dof);

// What is known of the items before one is measured. `density` integrates to one over low..high.
struct Prior {
    std::function<double(double)> density;
    double low = -std::numeric_limits<double>::infinity();
    double high = std::numeric_limits<double>::infinity();
    double mean = 0;
    double sd = 1;
};
Prior normal_prior(double mean, double sd);

// JCGM 106 clause 9.5.
struct GlobalRisk {
    double nonconforming = 0;  // share of all items outside the tolerance
    double consumer = 0;       // share accepted and nonconforming
    double producer = 0;       // share rejected and conforming
    double accepted = 0;       // share accepted
};
// Measured value: Student's t about the true value with standard uncertainty u (its scale) and dof.
Result<GlobalRisk> global_risk(const Prior& prior, double u, const ToleranceInterval& tolerance,
                               const ToleranceInterval& acceptance, double dof = infinite_dof);

}  // namespace tipwright::calib
