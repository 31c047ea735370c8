// Vessel content: how much of what the balance shows is water in the vessel. Pure: told what the balance
// shows, asked what that means. Where nobody knows what the empty vessel weighs, all that stands there counts
// as water until it was seen to be emptied: too early it is emptied, never too late. Masses in g, as
// displayed.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>

#include "bench/run/emptying_by_hand.hpp"

namespace tipwright::bench {

class VesselContent {
public:
    // empty_g: what the balance shows with the empty vessel on it, where the bench says so.
    VesselContent(std::optional<double> empty_g, double capacity_g)
        : empty_known_(empty_g.has_value()), empty_g_(empty_g.value_or(0)), capacity_g_(capacity_g) {}

    // As it is found. collected_g: what a run that goes on had in it. That counts where the balance may have
    // been tared since: a vessel that shows its own weight cannot deceive.
    void found(double shown_g, double collected_g) {
        lightest_g_ = shown_g;
        counted_from_g_ = empty_known_ ? empty_g_ : std::min(shown_g, 0.0);
        const bool tells_itself = empty_known_ && empty_g_ > vessel_back_g;
        if (tells_itself || !(collected_g > water_g(shown_g) + clings_g)) return;
        empty_known_ = false;
        counted_from_g_ = shown_g - collected_g;
    }

    double water_g(double shown_g) const { return shown_g - counted_from_g_; }
    // The reading from which water is counted.
    double counted_from_g() const { return counted_from_g_; }
    // Whether that is the empty vessel's, said by the bench or seen.
    bool empty_is_known() const { return empty_known_; }
    bool nearly_empty(double shown_g) const {
        return water_g(shown_g) <= std::max(nearly_empty_share * capacity_g_, empty_enough_g);
    }
    // One that is nearly empty gets no emptier.
    bool has_room(double shown_g, double wanted_g) const {
        return water_g(shown_g) + wanted_g <= capacity_g_ || nearly_empty(shown_g);
    }
    // The vessel is not there, or it is a lighter one, or the balance was tared with water in it.
    bool is_off(double shown_g) const { return empty_known_ && shown_g < empty_g_ - vessel_off_g; }
    // Through its drain, from one reading to the other. Of an unknown vessel from which nothing came nobody
    // can tell whether it was empty or its drain is shut.
    bool has_run_out(double before_g, double shown_g) const {
        return empty_known_ ? shown_g < empty_g_ + empty_enough_g : before_g > shown_g + empty_enough_g;
    }
    // Of an unknown vessel that was lifted and put back: whether what is known to have come in is gone.
    bool has_lost_what_came(double before_g, double shown_g) const {
        const double came_g = std::max(before_g - lightest_g_, 0.0);
        return shown_g <= before_g - came_g + std::max(nearly_empty_share * capacity_g_, empty_enough_g);
    }
    // It was emptied, and stands there again.
    void emptied(double shown_g) {
        lightest_g_ = std::min(lightest_g_, shown_g);
        if (!empty_known_) empty_g_ = lightest_g_;
        empty_known_ = true;
        // What clings to it, and the balance's zero, are no water.
        counted_from_g_ = std::abs(shown_g - empty_g_) <= clings_g ? shown_g : empty_g_;
    }

private:
    // Found by trial on the virtual bench; no source.
    static constexpr double nearly_empty_share = 0.05;
    static constexpr double empty_enough_g = 30;
    static constexpr double clings_g = 5;

    bool empty_known_;
    double empty_g_;
    double capacity_g_;
    double counted_from_g_ = 0;
    double lightest_g_ = 0;  // that it stood there with: it weighs no more
};

}  // namespace tipwright::bench
