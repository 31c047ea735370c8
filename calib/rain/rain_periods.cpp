#include "calib/rain/rain_periods.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <numbers>

#include "calib/base/dates.hpp"
#include "calib/base/square.hpp"

namespace tipwright::calib::rain {

namespace {

constexpr double hour_s = 3600;
constexpr double steps_in_one = 16;
constexpr std::size_t recent_least = 64;
// The highest point of a Brownian bridge over a time of 1, in the mean: sqrt(pi/8) (from memory).
constexpr double bridge_top_squared = std::numbers::pi / 8;

struct LocalDate {
    int year;
    unsigned month;
    std::int64_t day;
};
LocalDate local_date(double time_s, double offset_s) {
    const auto day = static_cast<std::int64_t>(std::floor((time_s + offset_s) / day_s));
    const std::chrono::year_month_day date{std::chrono::sys_days(std::chrono::days(day))};
    return {static_cast<int>(date.year()), static_cast<unsigned>(date.month()), day};
}
double start_of(std::int64_t day, double offset_s) {
    return static_cast<double>(day) * day_s - offset_s;
}
std::int64_t day_of(int year, unsigned month) {
    return std::chrono::sys_days(std::chrono::year(year) / static_cast<int>(month) / 1)
        .time_since_epoch()
        .count();
}

}  // namespace

double chamber_variance(const RainGauge& gauge) {
    return square(gauge.siphon_mm) / 12;
}

RainPeriods::RainPeriods(const RainGauge& gauge, const std::vector<RainCalibration>& calibrations,
                         const RainSettings& settings, RainMeter::Sink sink)
    : gauge_(gauge),
      settings_(settings),
      resting_variance_(square(calibrations.front().left.mm_at(std::numeric_limits<double>::infinity())) /
                            12 +
                        chamber_variance(gauge)),
      sink_(std::move(sink)) {}

void RainPeriods::take(const Piece& piece) {
    switch (piece.is) {
        case Piece::Is::water:
            return pour(piece.filling);
        case Piece::Is::event_ends:
            return close_event();
        case Piece::Is::covered:
            return covers(piece.from_s, piece.until_s);
        case Piece::Is::gap:
            return gap(piece.from_s, piece.until_s);
        case Piece::Is::end:
            return finish();
    }
}

RainAmount RainPeriods::amount_of(const RainSum& sum, RainPeriod period) {
    RainAmount out;
    out.period = period;
    out.from_s = sum.from_s;
    out.until_s = sum.until_s;
    out.tips = sum.tips;
    out.uncorrected_mm = sum.tips * gauge_.nominal_mm;
    out.corrected_mm = sum.mm;
    const double parameters = sum.parameter_variance();
    const double common = parameters + square(sum.rim_mm);
    // One tip more of one side than of the other.
    const double one_mm = sum.tips > 0 ? sum.mm / sum.tips : 0;
    const double tips =
        sum.tips_variance + square(gauge_.a_excess_relative * one_mm) * std::min(1.0, sum.tips);
    const double filling =
        (sum.within_variance >= 0 ? sum.within_variance : sum.start_variance + sum.end_variance) +
        sum.placing_variance;
    const double variance = common + tips + filling;
    out.u_common_mm = std::sqrt(common);
    out.u_tips_mm = std::sqrt(tips);
    out.u_filling_mm = std::sqrt(filling);
    out.u_mm = std::sqrt(variance);
    double dof = infinite_dof;
    if (std::isfinite(sum.dof) && parameters > 0.05 * variance) dof = square(variance / parameters) * sum.dof;
    out.k = factor(dof);
    out.U_mm = out.k * out.u_mm;
    out.highest_mm_h = sum.highest;
    out.highest_U_mm_h = sum.highest_U;
    out.missing_s = sum.missing_s;
    out.beyond_tips = sum.beyond;
    return out;
}

double RainPeriods::factor(double dof) {
    if (!(dof < 1000)) {
        if (normal_k_ == 0) normal_k_ = expanded({0, 1, infinite_dof}, settings_.coverage).k;
        return normal_k_;
    }
    // Student's t changes by less than 0.1 % over a step of a 16th in the degrees of freedom above 5. Each
    // step is computed once: minutes jump between them.
    const auto step =
        static_cast<std::size_t>(std::max(1.0, std::floor(dof * steps_in_one) / steps_in_one) * steps_in_one);
    if (kept_k_.size() <= step) kept_k_.resize(step + 1, 0.0);
    double& k = kept_k_[step];
    if (k == 0) k = expanded({0, 1, static_cast<double>(step) / steps_in_one}, settings_.coverage).k;
    return k;
}

void RainPeriods::note_missing(RainSum& sum) const {
    for (const Span& gap : gaps_)
        sum.missing_s += std::max(0.0, std::min(gap.until_s, sum.until_s) - std::max(gap.from_s, sum.from_s));
}

void RainPeriods::covers(double from_s, double until_s) {
    log_from_s_ = std::min(log_from_s_, from_s);
    log_until_s_ = std::max(log_until_s_, until_s);
}

// Of a period that begins before the log or ends after it: a part of a year is no dry year.
double RainPeriods::outside_log_s(const RainSum& sum) const {
    const double before_s = std::max(0.0, std::min(log_from_s_, sum.until_s) - sum.from_s);
    const double after_s = log_ended_ ? std::max(0.0, sum.until_s - std::max(log_until_s_, sum.from_s)) : 0;
    return before_s + after_s;
}

void RainPeriods::close_minute() {
    if (!minute_.open) return;
    minute_.open = false;
    const RainAmount out = amount_of(minute_, RainPeriod::minute);
    const double per_hour = hour_s / settings_.step_s;
    const double mm_h = out.corrected_mm * per_hour;
    for (RainSum* sum : {&hour_, &event_})
        if (mm_h > sum->highest) {
            sum->highest = mm_h;
            sum->highest_U = out.U_mm * per_hour;
        }
    sink_(out);
}

void RainPeriods::close_hour() {
    if (!hour_.open) return;
    hour_.open = false;
    settle();
    note_missing(hour_);
    sink_(amount_of(hour_, RainPeriod::hour));
    day_.take_end(hour_);
}

// Each tip is added to the longer periods together with its neighbours.
void RainPeriods::settle() {
    for (RainSum* sum : {&event_, &day_, &month_, &year_, &total_}) sum->take(lately_);
    lately_ = RainSum{};
}

// An hour of rain begins: the longer periods before it end, its own are open from now on.
void RainPeriods::roll(const RainSum& first) {
    const LocalDate date = local_date(first.from_s, settings_.utc_offset_s);
    if (day_.open && day_.until_s <= first.from_s) close_day();
    if (month_.open && month_.until_s <= first.from_s) close_month();
    if (year_.open && year_.until_s <= first.from_s) close_year();
    const double offset_s = settings_.utc_offset_s;
    const int later_year = date.month == 12 ? date.year + 1 : date.year;
    const unsigned later_month = date.month == 12 ? 1 : date.month + 1;
    if (!day_.open) begin(day_, start_of(date.day, offset_s), start_of(date.day + 1, offset_s), first);
    if (!month_.open)
        begin(month_, start_of(day_of(date.year, date.month), offset_s),
              start_of(day_of(later_year, later_month), offset_s), first);
    if (!year_.open)
        begin(year_, start_of(day_of(date.year, 1), offset_s), start_of(day_of(date.year + 1, 1), offset_s),
              first);
    if (!total_.open) {
        begin(total_, event_.from_s, event_.from_s, first);
        total_.start_variance = resting_variance_;
    }
}

// A longer period begins with its first hour of rain, dry before unless that hour is its first.
void RainPeriods::begin(RainSum& sum, double from_s, double until_s, const RainSum& first) const {
    sum = RainSum{};
    sum.open = true;
    sum.from_s = from_s;
    sum.until_s = until_s;
    sum.start_variance = first.from_s == from_s ? first.start_variance : resting_variance_;
}

void RainPeriods::close(RainSum& sum, RainPeriod period, RainSum& longer) {
    if (!sum.open) return;
    sum.open = false;
    note_missing(sum);
    if (sum.ended_s < sum.until_s) sum.end_variance = resting_variance_;
    RainAmount amount = amount_of(sum, period);
    amount.missing_s += outside_log_s(sum);
    sink_(amount);
    longer.take_end(sum);
}

void RainPeriods::close_year() {
    close(year_, RainPeriod::year, total_);
    for (Largest& largest : largest_) {
        if (largest.amount.corrected_mm > 0) sink_(largest.amount);
        largest.amount = {};
    }
    total_.missing_s += year_.missing_s;
    const double end_s = year_.until_s;
    gaps_.erase(std::remove_if(gaps_.begin(), gaps_.end(), [&](const Span& g) { return g.until_s <= end_s; }),
                gaps_.end());
}

void RainPeriods::close_event() {
    if (!event_.open) return;
    close_minute();
    settle();
    event_.open = false;
    event_.start_variance = event_.end_variance = resting_variance_;
    note_missing(event_);
    event_.until_s = event_last_s_;
    sink_(amount_of(event_, RainPeriod::event));
}

RainAmount RainPeriods::amount_within(double from_s, double until_s, RainPeriod period) {
    RainSum sum;
    sum.from_s = from_s;
    sum.until_s = until_s;
    sum.start_variance = resting_variance_;
    const Filling *first = nullptr, *last = nullptr;
    for (const Filling& filling : recent_) {
        if (filling.t1 <= from_s || filling.t0 >= until_s) continue;
        if (first == nullptr) first = &filling;
        last = &filling;
        if (filling.t0 <= from_s) {
            sum.start_content = filling.content(from_s);
            sum.start_variance = filling.variance(sum.start_content);
            sum.start_id = filling.id;
        }
        fill(sum, std::max(filling.t0, from_s), std::min(filling.t1, until_s), filling);
    }
    // Fullest it is by what is known of the tips at its ends. Between steady rain, where it is so, and one
    // that wanders between their tips as a bridge, where a place nearby holds more: nobody knows, and no
    // place is known that could be given instead; so U holds the whole of a rectangle that goes upward from
    // the value.
    // Of counts it wanders so between the ends of their intervals.
    const auto open_variance = [this](const Filling& at) {
        const double bunched = std::max(1.0, settings_.count_interval_s / std::max(at.t1 - at.t0, 1e-6));
        return square(bunched) * at.open_variance();
    };
    if (first != nullptr)
        sum.placing_variance = bridge_top_squared * (open_variance(*first) + open_variance(*last)) / 3;
    note_missing(sum);
    return amount_of(sum, period);
}

void RainPeriods::look_for_largest(double from_s, double until_s, const Filling& filling) {
    const double mm = (filling.content(until_s) - filling.content(from_s)) * filling.depth.mm;
    auto period = RainPeriod::largest_1;
    for (Largest& largest : largest_) {
        // Counts do not tell what fell in less than their interval.
        if (largest.window.long_s() >= settings_.step_s) {
            const double least = largest.amount.corrected_mm;
            const auto found = largest.window.add(from_s, until_s, mm, least);
            if (found.mm > least)
                largest.amount = amount_within(found.from_s, found.from_s + largest.window.long_s(), period);
        }
        period = static_cast<RainPeriod>(static_cast<int>(period) + 1);
    }
}

// Water between two times into hours and minutes.
void RainPeriods::pour(const Filling& filling) {
    covers(filling.t0, filling.t1);
    if (!event_.open) {
        event_ = RainSum{};
        event_.open = true;
        event_.from_s = filling.t0;
    }
    event_last_s_ = filling.t1;
    event_.until_s = filling.t1;
    if (recent_.size() >= 2 * recent_kept_) {
        const double before_s = filling.t0 - largest_.back().window.long_s();
        const auto kept = std::find_if(recent_.begin(), recent_.end(),
                                       [&](const Filling& one) { return one.t1 >= before_s; });
        recent_.erase(recent_.begin(), kept);
        recent_kept_ = std::max(recent_least, recent_.size());
    }
    recent_.push_back(filling);
    double t = filling.t0;
    do {
        if (enter(hour_, t, hour_s, filling, [this] { close_hour(); })) roll(hour_);
        const double end = std::min(filling.t1, hour_.until_s);
        double m = t;
        do {
            enter(minute_, m, settings_.step_s, filling, [this] { close_minute(); });
            const double until = std::min(end, minute_.until_s);
            fill(minute_, m, until, filling);
            if (until >= minute_.until_s) close_minute();
            if (!(until > m)) break;
            m = until;
        } while (m < end);
        fill(hour_, t, end, filling);
        look_for_largest(t, end, filling);
        if (lately_.reign != filling.depth.reign) settle();
        add(lately_, filling, filling.content(end) - filling.content(t));
        if (end >= hour_.until_s) {
            close_minute();
            close_hour();
        }
        if (!(end > t)) break;
        t = end;
    } while (t < filling.t1);
}

// Of a tip that one contact of two counted nobody knows whether it was one: half a tip's uncertainty.
void RainPeriods::add(RainSum& sum, const Filling& filling, double count) const {
    sum.add(filling.depth, count, gauge_.scatter_relative);
    if (filling.doubted > 0)
        sum.tips_variance +=
            filling.doubted * count / (filling.x1 - filling.x0) * square(filling.depth.mm) / 4;
}

template <class Close>
bool RainPeriods::enter(RainSum& bin, double t, double step, const Filling& filling, const Close& close) {
    if (bin.open && t >= bin.until_s) close();
    if (bin.open) return false;
    bin = RainSum{};
    bin.open = true;
    bin.from_s = std::floor((t + settings_.utc_offset_s) / step) * step - settings_.utc_offset_s;
    bin.until_s = bin.from_s + step;
    const bool within = t <= bin.from_s && t > filling.t0;
    bin.start_variance = within ? filling.variance(filling.content(t)) : resting_variance_;
    bin.start_id = within ? filling.id : 0;
    bin.start_content = filling.content(t);
    return true;
}

void RainPeriods::fill(RainSum& bin, double from, double until, const Filling& filling) {
    const double x0 = filling.content(from);
    const double x1 = filling.content(until);
    add(bin, filling, x1 - x0);
    bin.end_variance = until >= bin.until_s ? filling.variance(x1) : resting_variance_;
    const double share = (x1 - bin.start_content) / filling.size;
    bin.within_variance =
        bin.start_id == filling.id && bin.start_id != 0 && until >= bin.until_s && share < 1
            ? square(filling.depth.mm * filling.size) * share * (1 - share) * filling.openness +
                  (filling.chamber_variance > 0 ? 2 * filling.chamber_variance : 0)
            : -1;
}

void RainPeriods::gap(double from_s, double until_s) {
    if (!gaps_.empty() && gaps_.back().until_s == from_s)
        gaps_.back().until_s = until_s;
    else
        gaps_.push_back({from_s, until_s});
}

void RainPeriods::finish() {
    const double until_s = event_last_s_;
    log_ended_ = true;
    close_event();
    close_hour();
    close_day();
    close_month();
    close_year();
    total_.until_s = until_s;
    total_.start_variance = total_.end_variance = resting_variance_;
    sink_(amount_of(total_, RainPeriod::total));
}

}  // namespace tipwright::calib::rain
