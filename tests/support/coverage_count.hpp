// How often the stated intervals of one quantity hold the truth.
#pragma once

#include <algorithm>
#include <cmath>

#include "calib/base/uncertain.hpp"

namespace tipwright::test {

// How one stated quantity fared. z: (stated - true) / u.
struct CoverageCount {
    int intervals = 0;
    int inside = 0;
    double sum_z = 0;
    double sum_z2 = 0;
    void add(const calib::Uncertain& stated, double truth, double U) {
        if (!(stated.u > 0) || !std::isfinite(truth)) return;
        ++intervals;
        inside += std::abs(stated.value - truth) <= U ? 1 : 0;
        const double z = (stated.value - truth) / stated.u;
        sum_z += z;
        sum_z2 += z * z;
    }
    double percent() const { return intervals > 0 ? 100.0 * inside / intervals : 0; }
    double mean_z() const { return sum_z / std::max(1, intervals); }
    double sd_z() const { return std::sqrt(sum_z2 / std::max(1, intervals) - mean_z() * mean_z()); }
};

}  // namespace tipwright::test
