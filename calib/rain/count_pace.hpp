// CountPace: how much faster than its mean it rained while a count of tips came together. A count hides the
// intervals between its tips; the correction needs them, and the mean interval makes it too small: it rains
// in bursts. The tips' own mean rate M(s) = sum n^2 / (s sum n) over stretches of length s falls with s as a
// power law (multiple scaling of rain: Gupta & Waymire 1990, from memory): gamma = log2 M(s)/M(2s), from the
// shortest stretches that hold five tips in the mean of the tips. Tips of a count then came (interval / 60
// s)^gamma times faster than the count says; rain_meter.hpp carries the uncertainty of that. 1 for intervals
// up to a minute.
#pragma once

#include <array>
#include <cstdint>

namespace tipwright::calib {

class CountPace {
public:
    explicit CountPace(double interval_s) : interval_s_(interval_s) {}
    // Counts in order; a missing one is 0.
    void take(int count);
    double exponent() const;  // gamma, 0 to 0.7
    double factor() const;

private:
    static constexpr int scales = 16;
    double interval_s_;
    std::uint64_t taken_ = 0;
    std::array<double, scales> sum_{};      // of the stretch in hand
    std::array<double, scales> squares_{};  // of whole stretches
    double all_ = 0;
};

}  // namespace tipwright::calib
