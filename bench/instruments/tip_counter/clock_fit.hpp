// Clock fit: maps the clock of a counter device to bench time while both run. A line arrives after its event,
// never before, by a delay that varies; the least delayed lines show the true relation. Arrival minus device
// time lies above a straight line (offset and drift), and the lower convex hull of the points touches it: the
// line taken is the hull's edge below the middle of the window, as in Zhang, Liu, Xia: Clock synchronization
// algorithms for network measurements, IEEE INFOCOM 2002 (least sum of distances, line below all points).
// The drift found counts little while the window is short, fully from the settling time on, and never exceeds
// its limit. What remains unknown is the least delay itself, the same for all edges: it cancels in intervals.
#pragma once

#include <cstddef>
#include <deque>

namespace tipwright::bench {

class ClockFit {
public:
    // settling_s: window from which all of the drift found is used. drift_limit: relative, 1e-4 is 100 ppm.
    explicit ClockFit(double window_s = 1800, double settling_s = 300, double drift_limit = 3e-4)
        : window_s_(window_s), settling_s_(settling_s), drift_limit_(drift_limit) {}

    // device_s: device time since its first line, ascending.
    void add(double device_s, double arrived_s);
    // Bench time of a device time; after at least one add().
    double bench_time_s(double device_s) const { return device_s + offset_s_ + drift_ * device_s; }
    // Relative rate of bench time against the device's, minus 1.
    double drift() const { return drift_; }

private:
    struct Point {
        double device_s;
        double lag_s;  // arrival minus device time
    };
    void fit();

    double window_s_;
    double settling_s_;
    double drift_limit_;
    std::deque<Point> hull_;
    double offset_s_ = 0;
    double drift_ = 0;
};

}  // namespace tipwright::bench
