// TipPace: how much faster than its mean the water of one interval between tips came, in the mean of its
// water. What a bucket misses goes with the square of the rate, so this decides how deep a tip was.
//   Two neighbouring stretches of as many tips, p the first one's share of their time: the mean of their own
//   rates is 1/(4 p (1 - p)) of the rate over both. -ln of 4 p (1 - p), less what the tips' scatter makes of
//   it, is the growth of the rate over one halving of the time; of a cascade it is the variance of the
//   weights (Carsteanu & Foufoula-Georgiou 1996; from memory). It is learned for each octave of time apart,
//   from stretches of 1, 2, 4 ... tips, down to the lag of a funnel: 1.5 s. So rain that is steady below
//   minutes is seen to be so wherever tips come close enough to see it. Where they do not, or only those of
//   the heaviest rain do, nobody knows: rain may be steady within the interval (no growth) or go on as in the
//   octave above (scaling). The value is the middle, the uncertainty a rectangle between both (JCGM
//   100:2008 4.3.7), common to all tips.
// Checked against cascades and steady rain: tests/calib/rain/tip_pace_test.cpp; coverage of amounts with
// three kinds of rain: tests/figures/rain_figures.cpp.
#pragma once

#include <array>
#include <cstddef>

namespace tipwright::calib {

struct PaceRange {
    double low = 1, high = 1;
    double middle() const { return (low + high) / 2; }
};

class TipPace {
public:
    // Of single tips: scatter as standard deviation, compartment A over the mean of both, relative. A stretch
    // has at least so many tips and is at least so long.
    TipPace(double scatter_relative, double a_excess_relative, int least_tips, double least_s)
        : scatter_(scatter_relative),
          a_excess_(a_excess_relative),
          least_tips_(least_tips),
          least_s_(least_s) {
        learn();
    }

    // The time between a tip and the one before, of one shower.
    void take(double interval_s);
    void part();  // a dry stretch, a gap
    PaceRange within(double interval_s) const;

private:
    static constexpr std::size_t octaves = 20;
    static constexpr std::size_t lengths = 10;

    struct Stretch {
        double time_s = 0;
        bool half = false;
        double before_s = 0;  // 0: none
    };
    struct Octave {
        double pairs = 0;
        double tips = 0;
        double growth = 0;
    };
    void pair(double before_s, double after_s, double tips, bool odd);
    void learn();

    double scatter_, a_excess_;
    int least_tips_;
    double least_s_;
    int tips_in_hand_ = 0;
    double time_in_hand_s_ = 0;
    std::array<Stretch, lengths> stretches_{};  // of 1, 2, 4 ... of the shortest
    double tips_ = 0;
    std::array<Octave, octaves> seen_{};
    int unlearned_ = 0;
    std::array<PaceRange, octaves> paces_{};  // of intervals of the lag times a power of two
};

}  // namespace tipwright::calib
