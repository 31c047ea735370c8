// FullestWindow: in which stretch of a given length most fell, wherever it begins. What falls comes in
// pieces, straight between two times each, in order. The fullest stretch begins or ends where a piece does:
// between, the amount in a stretch is straight in its place. Memory: the pieces of one stretch.
#pragma once

#include <cstddef>
#include <vector>

namespace tipwright::calib {

class FullestWindow {
public:
    explicit FullestWindow(double long_s) : long_s_(long_s) {}

    struct Window {
        double from_s = 0;
        double mm = 0;
    };
    // The fullest of those that end within the new piece, if it holds more than `least_mm`; else mm is that.
    // A piece of no length is a jump.
    Window add(double from_s, double until_s, double mm, double least_mm);
    double long_s() const { return long_s_; }

private:
    struct Knot {
        double time_s, mm;  // what had fallen by then
    };
    double fallen_before(double time_s, std::size_t& first) const;

    double long_s_;
    double fallen_mm_ = 0;
    std::vector<Knot> knots_;
    std::size_t kept_ = 0;  // from this one on: the last before the stretch in hand
    std::size_t next_ = 0;  // first of them of which the stretch that begins there has not ended
};

}  // namespace tipwright::calib
