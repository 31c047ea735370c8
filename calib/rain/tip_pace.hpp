// TipPace: how much faster than its mean the water of one interval between tips came, in the mean of its
// water. What a bucket misses goes with the square of the rate, so this decides how deep a tip was.
//   Two neighbouring stretches, p and q the first one's share of their time and of their tips: the mean of
//   their own rates, by their water, is 1 + (q - p)^2/(p (1 - p)) of the rate over both. Its ln, less what
//   the tips' scatter and the resolution of their times make of it, is the growth of the rate over one
//   halving of the time; of a cascade it is the variance of the weights (Carsteanu & Foufoula-Georgiou 1996;
//   from memory). It is learned for each octave of time apart, from stretches of 1, 2, 4 ... tips, down to
//   the lag of a funnel: 1.5 s. So rain that is steady below minutes is seen to be so wherever tips come
//   close enough to see it. Where they do not, or only those of the heaviest rain do, nobody knows: rain may
//   be steady within the interval (no growth) or go on as in the octave above (scaling). The value is the
//   middle, the uncertainty a rectangle between both (JCGM 100:2008 4.3.7), common to all tips.
// Checked against cascades and steady rain: tests/calib/rain/tip_pace_test.cpp; coverage of amounts with
// three kinds of rain: tests/figures/rain_figures.cpp.
#pragma once

#include <array>
#include <cstddef>

namespace tipwright::calib {

// Days later, and at no flow at all, the rate says nothing any more.
inline constexpr double longest_paced_s = 86400;

struct PaceRange {
    double low = 1, high = 1;
    double middle() const { return (low + high) / 2; }
};

class TipPace {
public:
    struct Tips {
        double scatter_relative = 0;   // of single ones, standard deviation
        double a_excess_relative = 0;  // compartment A over the mean of both
        double resolution_s = 0;       // of their times
        bool counted = false;          // in intervals that begin and end amid a tip
    };
    // A stretch has at least so many tips and is at least so long.
    TipPace(const Tips& tips, int least_tips, double least_s)
        : tips_(tips), least_tips_(least_tips), least_s_(least_s) {
        learn();
    }

    // The time between a tip and the one before, of one shower; or that of a count of tips.
    void take(double time_s, int tips = 1);
    void part();  // a dry stretch, a gap
    // Now, from what was taken; else after many.
    void learn();
    PaceRange within(double interval_s) const;

private:
    static constexpr std::size_t octaves = 20;
    static constexpr std::size_t lengths = 10;

    struct Rained {
        double time_s = 0;  // 0: nothing
        double tips = 0;
    };
    struct Stretch {
        Rained in_hand;
        bool half = false;
        Rained before;
    };
    struct Octave {
        double pairs = 0;
        double tips = 0;
        double growth = 0;
    };
    double own_unevenness(const Rained& before, const Rained& after, bool odd) const;
    void pair(const Rained& before, const Rained& after, bool odd);

    Tips tips_;
    int least_tips_;
    double least_s_;
    int tips_in_hand_ = 0;
    double time_in_hand_s_ = 0;
    std::array<Stretch, lengths> stretches_{};  // of 1, 2, 4 ... of the shortest
    double seen_tips_ = 0;
    std::array<Octave, octaves> seen_{};
    int unlearned_ = 0;
    std::array<PaceRange, octaves> paces_{};  // of intervals of the lag times a power of two
};

}  // namespace tipwright::calib
