#include "calib/tips/tips.hpp"

#include <limits>

namespace tipwright::calib {

TipCollector::TipCollector(const Gauge& gauge) : contacts_(gauge.contacts), debounce_s_(gauge.debounce_s) {
    last_closure_s_.fill(-std::numeric_limits<double>::infinity());
}

bool TipCollector::push(int contact, bool closed, double time_s) {
    if (contact < 1 || contact > static_cast<int>(contacts_.size())) return false;
    const auto index = static_cast<std::size_t>(contact - 1);
    const bool active = closed != contacts_[index].normally_closed;
    if (!active) return false;
    if (time_s - last_closure_s_[index] < debounce_s_) {
        ++bounces_;
        return false;
    }
    last_closure_s_[index] = time_s;
    if (!tips_.empty() && time_s - tips_.back().time_s < debounce_s_ && !tips_.back().seen_by[index]) {
        tips_.back().seen_by[index] = true;
        return false;
    }
    Tip tip;
    tip.time_s = time_s;
    tip.seen_by[index] = true;
    tips_.push_back(tip);
    return true;
}

int TipCollector::count(int contact, std::size_t first_tip, std::size_t last_tip) const {
    const auto index = static_cast<std::size_t>(contact - 1);
    int seen = 0;
    for (std::size_t k = first_tip; k <= last_tip && k < tips_.size(); ++k)
        seen += tips_[k].seen_by[index] ? 1 : 0;
    return seen;
}

}  // namespace tipwright::calib
