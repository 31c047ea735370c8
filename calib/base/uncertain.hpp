// Uncertain: an estimate with its standard uncertainty and degrees of freedom.
// Expanded uncertainty U = k u with k = t_p(nu), JCGM 100:2008 clause G.3; nu_eff by Welch-Satterthwaite
// (G.2b), p = 0.95 unless said otherwise. Unit: that of the value, always named by the holder.
#pragma once

#include <limits>

namespace tipwright::calib {

inline constexpr double infinite_dof = std::numeric_limits<double>::infinity();
inline constexpr double default_coverage = 0.95;

struct Uncertain {
    double value = 0;
    double u = 0;               // standard uncertainty, same unit, >= 0
    double dof = infinite_dof;  // degrees of freedom, > 0
};

struct Expanded {
    double k = 0;
    double U = 0;
    double coverage = default_coverage;
};

// k from Student's t at the (not truncated) degrees of freedom.
Expanded expanded(const Uncertain& quantity, double coverage = default_coverage);

}  // namespace tipwright::calib
