// Emptying by hand: what a person beside the bench is told, and how the balance shows that the vessel was
// lifted and stands there again. Shared by runs and by the work outside them.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>

namespace tipwright::bench {

// Whoever is to empty a vessel by hand is reminded so often, and waited for: the pump stands.
inline constexpr double remind_to_empty_s = 120;
// A reading so far below that of the vessel before it: it was lifted. So far above the lowest: it is back. No
// vessel is lighter (common practice, no source).
inline constexpr double vessel_off_g = 15;
inline constexpr double vessel_back_g = 20;
inline constexpr double emptied_window_s = 3;  // the balance stands still for so long
inline constexpr const char* empty_it =
    "Empty the vessel (a full one is heavy: lift with care), put it back and leave it still.";
inline constexpr const char* vessel_is_off =
    "The vessel is off the balance. The pump waits until it stands there again.";

// A vessel of which nobody knows what it weighs: it was emptied once it was lifted, put back, and stands.
class LiftedAndBack {
public:
    // Readings in order, as displayed.
    void weight(double time_s, double mass_g) {
        first_g_ = std::isnan(first_g_) ? mass_g : first_g_;
        lowest_g_ = std::min(lowest_g_, mass_g);
        if (std::abs(mass_g - still_g_) > moves_g || std::isnan(still_g_)) {
            still_g_ = mass_g;
            still_since_s_ = time_s;
        }
        still_ = time_s - still_since_s_ > emptied_window_s;
        back_ = mass_g > lowest_g_ + vessel_back_g && still_;
    }
    bool still() const { return still_; }
    bool back() const { return back_; }
    bool lifted() const { return lowest_g_ < first_g_ - vessel_off_g; }
    bool done() const { return lifted() && back_; }

private:
    static constexpr double moves_g = 0.5;
    double first_g_ = std::numeric_limits<double>::quiet_NaN();
    double lowest_g_ = std::numeric_limits<double>::infinity();
    double still_g_ = std::numeric_limits<double>::quiet_NaN();
    double still_since_s_ = 0;
    bool still_ = false;
    bool back_ = false;
};

}  // namespace tipwright::bench
