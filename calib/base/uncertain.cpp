#include "calib/base/uncertain.hpp"

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

// JCGM 100:2008 clause G.3.2: U_p = t_p(nu_eff) u_c.
Expanded expanded(const Uncertain& quantity, double coverage) {
    const double k = student_two_sided(coverage, quantity.dof);
    return {k, k * quantity.u, coverage};
}

}  // namespace tipwright::calib
