// RainSum: an amount while it is added up. Internal to calib/rain.
#pragma once

#include <array>
#include <cmath>

#include "calib/rain/depth_curve.hpp"
#include "calib/rain/rain_amount.hpp"

namespace tipwright::calib::rain {

inline constexpr std::size_t sum_modes = 2 * curve_modes + 1;

// Depth of a tip with the modes of the calibration before, the one after, and the drift between.
struct Depth {
    double mm = 0;
    std::array<double, sum_modes> modes{};
    double rim_relative_u = 0;
    double dof = infinite_dof;
    int reign = 0;
    bool beyond = false;
};

// Water of some tips on its way into the compartment: content rises from x0 to x1 tips between t0 and t1.
struct Filling {
    std::uint64_t id = 0;
    double t0 = 0, t1 = 0;
    double x0 = 0, x1 = 1;
    double size = 1;            // tips that one share stands for: those of a block
    double openness = 1.0 / 3;  // c
    double chamber_variance = 0;
    double doubted = 0;  // of its tips, counted by one contact only
    Depth depth;

    double content(double t) const {
        return t >= t1 ? x1 : t <= t0 ? x0 : x0 + (x1 - x0) * (t - t0) / (t1 - t0);
    }
    double variance(double x) const {
        const double share = x / size;
        return depth.mm * size * depth.mm * size * share * (1 - share) * openness + chamber_variance;
    }
    // Of a bridge over it: that many times t (1 - t).
    double open_variance() const { return depth.mm * size * depth.mm * size * openness; }
};

struct RainSum {
    bool open = false;
    double from_s = 0, until_s = 0;
    double tips = 0, mm = 0, beyond = 0;
    std::array<double, sum_modes> modes{};
    int reign = -1;
    double earlier_variance = 0;  // of the parameters, reigns before
    double rim_mm = 0;            // sum of depth times its relative u of the rim
    double dof = infinite_dof;
    double tips_variance = 0;
    double start_variance = 0, end_variance = 0;
    double within_variance = -1;  // both ends within one tip; below 0: not
    double placing_variance = 0;  // of the fullest stretch: how much better another place may be
    std::uint64_t start_id = 0;
    double start_content = 0;
    double ended_s = 0;  // where the last shorter period in it ended
    double missing_s = 0;
    double highest = 0, highest_U = 0;

    void change_reign(int to) {
        if (reign == to) return;
        for (double& mode : modes) {
            earlier_variance += mode * mode;
            mode = 0;
        }
        reign = to;
    }
    void add(const Depth& depth, double count, double scatter) {
        change_reign(depth.reign);
        tips += count;
        mm += count * depth.mm;
        if (depth.beyond) beyond += count;
        for (std::size_t k = 0; k < sum_modes; ++k) modes[k] += count * depth.modes[k];
        rim_mm += count * depth.mm * depth.rim_relative_u;
        dof = std::min(dof, depth.dof);
        tips_variance += count * scatter * scatter * depth.mm * depth.mm;
    }
    // What was added up apart, all of one reign.
    void take(const RainSum& part) {
        if (part.reign < 0) return;
        change_reign(part.reign);
        tips += part.tips;
        mm += part.mm;
        beyond += part.beyond;
        for (std::size_t k = 0; k < sum_modes; ++k) modes[k] += part.modes[k];
        rim_mm += part.rim_mm;
        dof = std::min(dof, part.dof);
        tips_variance += part.tips_variance;
    }
    // A shorter period within this one has ended.
    void take_end(const RainSum& part) {
        end_variance = part.end_variance;
        ended_s = part.until_s;
        if (part.highest > highest) {
            highest = part.highest;
            highest_U = part.highest_U;
        }
    }
    double parameter_variance() const {
        double sum = earlier_variance;
        for (const double mode : modes) sum += mode * mode;
        return sum;
    }
};

}  // namespace tipwright::calib::rain
