#include "bench/instruments/tip_counter/clock_fit.hpp"

#include <algorithm>

namespace tipwright::bench {

namespace {

// A hull of more corners is a curve, no line: the oldest then say nothing new.
constexpr std::size_t corners_max = 256;

}  // namespace

void ClockFit::add(double device_s, double arrived_s) {
    const Point point{device_s, arrived_s - device_s};
    // Two lines of one microsecond: the earlier to arrive counts.
    if (!hull_.empty() && hull_.back().device_s >= device_s) {
        if (point.lag_s >= hull_.back().lag_s) return;
        hull_.pop_back();
    }
    // Corners that now lie above the line from their neighbour to the new point are no corners any more.
    while (hull_.size() >= 2) {
        const Point& a = hull_[hull_.size() - 2];
        const Point& b = hull_.back();
        const double cross = (b.device_s - a.device_s) * (point.lag_s - a.lag_s) -
                             (b.lag_s - a.lag_s) * (point.device_s - a.device_s);
        if (cross > 0) break;
        hull_.pop_back();
    }
    hull_.push_back(point);
    while (hull_.size() > 2 && (hull_.size() > corners_max || hull_[1].device_s < device_s - window_s_)) {
        hull_.pop_front();
    }
    fit();
}

void ClockFit::fit() {
    const double span_s = hull_.back().device_s - hull_.front().device_s;
    drift_ = 0;
    if (span_s > 0) {
        const double middle_s = hull_.front().device_s + span_s / 2;
        std::size_t right = 1;
        while (right + 1 < hull_.size() && hull_[right].device_s < middle_s) ++right;
        const Point& a = hull_[right - 1];
        const Point& b = hull_[right];
        const double found = (b.lag_s - a.lag_s) / (b.device_s - a.device_s);
        const double x = std::min(span_s / settling_s_, 1.0);
        const double weight = x * x * (3 - 2 * x);
        drift_ = std::clamp(found, -drift_limit_, drift_limit_) * weight;
    }
    // The line lies below all points and touches one.
    offset_s_ = hull_.front().lag_s - drift_ * hull_.front().device_s;
    for (const Point& corner : hull_)
        offset_s_ = std::min(offset_s_, corner.lag_s - drift_ * corner.device_s);
}

}  // namespace tipwright::bench
