#include "calib/rain/fullest_window.hpp"

namespace tipwright::calib {

namespace {
constexpr std::size_t most_passed = 64;
}

// Without what jumped at that very time. first: of the knots not before it.
double FullestWindow::fallen_before(double time_s, std::size_t& first) const {
    while (first > kept_ && knots_[first - 1].time_s >= time_s) --first;
    const Knot& b = knots_[first];
    if (first == kept_) return b.mm;
    const Knot& a = knots_[first - 1];
    return b.time_s > a.time_s ? a.mm + (b.mm - a.mm) * (time_s - a.time_s) / (b.time_s - a.time_s) : a.mm;
}

FullestWindow::Window FullestWindow::add(double from_s, double until_s, double mm, double least_mm) {
    if (knots_.empty() || from_s > knots_.back().time_s) knots_.push_back({from_s, fallen_mm_});
    const double before_mm = fallen_mm_;
    fallen_mm_ += mm;
    knots_.push_back({until_s, fallen_mm_});
    Window best{0, least_mm};
    // Most of the time it rains less than it once did.
    const bool hopeless = fallen_mm_ - knots_[kept_].mm <= least_mm;
    for (; knots_[next_].time_s + long_s_ <= until_s; ++next_) {
        const Knot& knot = knots_[next_];
        const double end_s = knot.time_s + long_s_;
        if (hopeless || !(end_s > from_s)) continue;
        const double held = before_mm + mm * (end_s - from_s) / (until_s - from_s) - knot.mm;
        if (held > best.mm) best = {knot.time_s, held};
    }
    const double begin_s = until_s - long_s_;
    std::size_t first = next_;
    if (!hopeless) {
        const double held = fallen_mm_ - fallen_before(begin_s, first);
        if (held > best.mm) best = {begin_s, held};
    }
    while (kept_ + 1 < next_ && knots_[kept_ + 1].time_s < begin_s) ++kept_;
    if (kept_ > most_passed && 2 * kept_ > knots_.size()) {
        knots_.erase(knots_.begin(), knots_.begin() + static_cast<std::ptrdiff_t>(kept_));
        next_ -= kept_;
        kept_ = 0;
    }
    return best;
}

}  // namespace tipwright::calib
