// Gauge: what the mathematics must know of a rain gauge. All differences between gauge kinds are
// values of these fields; no code asks for a kind by name.
#pragma once

#include <string>
#include <vector>

#include "calib/base/uncertain.hpp"

namespace tipwright::calib {

enum class Inlet { straight, siphon };

struct Contact {
    bool normally_closed = false;
};

struct Gauge {
    double nominal_tip_mm = 0;    // h_n, 0.01 to 2 mm
    Uncertain catch_diameter_mm;  // 50 to 700 mm
    int compartments = 2;         // 2: bucket with sides A and B; 1: spoon
    Inlet inlet = Inlet::straight;
    double siphon_volume_mL = 0;  // siphon only: what one emptying delivers, nominal
    // Siphon only: how much less a tip holds that falls as the siphon runs dry, in per cent of the mean:
    // siphon flow times movement time over volume per tip.
    double siphon_tail_percent = 0;
    std::vector<Contact> contacts;  // one or two
    double debounce_s = 0.1;        // edges of one contact closer than this belong to one closure
    double max_intensity_mm_h = 0;  // declared by the maker

    // A = pi d^2 / 4 in cm2, u(A) = 2 A u(d) / d.
    Uncertain catch_area_cm2() const;
    // V_n = h_n A / 10 in mL.
    double nominal_tip_mL() const;
};

// I = 600 Q / A, mm/h from mL/min and cm2; and back.
double intensity_mm_h(double flow_mL_min, double catch_area_cm2);
double flow_mL_min(double intensity_mm_h, double catch_area_cm2);

}  // namespace tipwright::calib
