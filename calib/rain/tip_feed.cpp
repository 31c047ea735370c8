#include "calib/rain/tip_feed.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::calib {

namespace {
constexpr double coarse_s = 10;
constexpr double longest_count_s = 86400;
// The clock of a logger is set to the second; a count's line may come so much early or late.
constexpr double late_share = 0.5;
// Tips go on at this pace when nothing else is known.
constexpr double usual_interval_s = 60;
}  // namespace

void TipFeed::note_back(double by_s, std::uint64_t line) {
    RainSigns& signs = meter_.signs();
    if (signs.clock_set_back++ == 0) signs.clock_back_line = line;
    signs.clock_back_s = std::max(signs.clock_back_s, by_s);
}

Outcome TipFeed::take(const LogEntry& entry) {
    if (settings_.counts) return count(entry);
    tip(entry);
    return Done{};
}

void TipFeed::send() {
    if (!open_) return;
    if (settings_.two_contacts && open_->seen != 3) {
        open_->tip.one_contact = true;
        ++meter_.signs().one_contact;
    }
    meter_.tip(open_->tip);
    open_.reset();
}

void TipFeed::tip(const LogEntry& entry) {
    RainSigns& signs = meter_.signs();
    double t = entry.time_s + offset_s_;
    bool unknown = !any_;
    if (offset_s_ > 0 && entry.time_s > last_s_) {
        t = entry.time_s;
        offset_s_ = 0;
        unknown = true;
    }
    const bool coarse = settings_.resolution_s >= coarse_s;
    if (any_ && t < last_s_ - std::max(settings_.bounce_s, settings_.two_contacts ? settings_.pair_s : 0)) {
        const double pace = before_s_ > 0 ? std::min(before_s_, usual_interval_s) : usual_interval_s;
        note_back(last_s_ - t, entry.line);
        offset_s_ += last_s_ + pace - t;
        t = last_s_ + pace;
        unknown = true;
    }
    if (coarse) {
        if (heap_ > 0 && t <= heap_s_) {
            ++heap_;
            return;
        }
        if (heap_ > 0) lay(std::max(heap_s_, end_s_), heap_s_ + settings_.resolution_s, heap_, 0, after_gap_);
        if (heap_ > 0) end_s_ = heap_s_ + settings_.resolution_s;
        after_gap_ = heap_ == 0 || unknown;
        heap_s_ = t;
        heap_ = 1;
        before_s_ = t - last_s_;
        last_s_ = t;
        any_ = true;
        return;
    }
    const int contact = settings_.two_contacts && entry.contact == 2 ? 1 : 0;
    ++(contact == 0 ? signs.contact_1 : signs.contact_2);
    const double since_s = t - contact_last_s_[contact];
    if (any_ && since_s < settings_.bounce_s) {
        ++(std::abs(since_s) < 1e-9 ? signs.duplicates : signs.bounces);
        return;
    }
    contact_last_s_[contact] = t;
    const int bit = 1 << contact;
    if (open_ && settings_.two_contacts && (open_->seen & bit) == 0 &&
        std::abs(t - open_->tip.time_s) <= settings_.pair_s) {
        open_->seen |= bit;
        return;
    }
    send();
    t = std::max(t, last_s_);
    before_s_ = any_ ? t - last_s_ : 0;
    open_ = Open{};
    open_->tip.time_s = t;
    open_->tip.unknown_interval = unknown;
    open_->seen = bit;
    last_s_ = t;
    any_ = true;
}

// Evenly, in the middle of its share of the interval.
void TipFeed::lay(double from_s, double until_s, int tips, int doubted, bool unknown) {
    meter_.count(from_s, until_s, tips, unknown);
    for (int i = 0; i < tips; ++i) {
        RainTip tip;
        tip.time_s = from_s + (until_s - from_s) * (i + 0.5) / tips;
        if (tips > 1) tip.paced_s = (until_s - from_s) / tips;
        tip.unknown_interval = unknown && i == 0;
        tip.one_contact = i < doubted;
        meter_.tip(tip);
    }
}

Outcome TipFeed::count(const LogEntry& entry) {
    if (settings_.interval_s == 0) {
        if (!first_) {
            first_ = entry;
            return Done{};
        }
        const double distance = entry.time_s - first_->time_s;
        if (!(distance >= 1 - 1e-6 && distance <= longest_count_s + 1e-6))
            return Fault{
                FaultCode::bad_value,
                "the first two times are " + std::to_string(distance) + " s apart: no interval of counts",
                "line " + std::to_string(entry.line), "state it: --interval SECONDS, 1 to 86400"};
        settings_.interval_s = distance;
        const LogEntry first = *first_;
        if (auto done = count(first); !done) return done;
    }
    const double interval_s = settings_.interval_s;
    RainSigns& signs = meter_.signs();
    double end = entry.time_s + (settings_.names_start ? interval_s : 0) + offset_s_;
    if (offset_s_ > 0 && end - offset_s_ - interval_s >= end_s_) {
        end -= offset_s_;
        offset_s_ = 0;
    }
    if (any_ && std::abs(end - end_s_) < 1e-6 && offset_s_ == 0) {
        ++signs.duplicates;
        return Done{};
    }
    if (any_ && end < end_s_ + late_share * interval_s) {
        note_back(end_s_ + interval_s - end, entry.line);
        offset_s_ += end_s_ + interval_s - end;
        end = end_s_ + interval_s;
    }
    double from = any_ ? std::max(end_s_, end - (1 + late_share) * interval_s) : end - interval_s;
    if (any_ && end - end_s_ > (1 + late_share) * interval_s) {
        from = end - interval_s;
        meter_.gap(end_s_, from);
        after_gap_ = true;
    }
    end_s_ = end;
    any_ = true;
    if (entry.count < 0 && entry.second <= 0) {
        meter_.gap(from, end);
        after_gap_ = true;
        return Done{};
    }
    meter_.covers(from, end);
    const int one = std::max(entry.count, 0);
    const int two = std::max(entry.second, 0);
    signs.contact_1 += static_cast<std::uint64_t>(one);
    signs.contact_2 += static_cast<std::uint64_t>(two);
    const int tips = settings_.two_contacts ? std::max(one, two) : one;
    const int doubted = settings_.two_contacts ? std::abs(one - two) : 0;
    signs.one_contact += static_cast<std::uint64_t>(doubted);
    if (tips > 0) {
        lay(from, end, tips, doubted, after_gap_);
        after_gap_ = false;
    }
    return Done{};
}

Outcome TipFeed::finish() {
    if (settings_.counts && settings_.interval_s == 0)
        return Fault{FaultCode::missing_field, "a single count has no interval", "log",
                     "state it: --interval SECONDS"};
    send();
    if (heap_ > 0) lay(std::max(heap_s_, end_s_), heap_s_ + settings_.resolution_s, heap_, 0, after_gap_);
    meter_.finish();
    return Done{};
}

}  // namespace tipwright::calib
