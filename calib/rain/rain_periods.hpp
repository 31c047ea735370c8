// RainPeriods: the water between tips, poured into minutes, hours, days, months, years, events and the total;
// each period is handed on when it ends. What the numbers mean: rain_meter.hpp.
#pragma once

#include <array>
#include <functional>
#include <limits>
#include <vector>

#include "calib/rain/fullest_window.hpp"
#include "calib/rain/rain_amount.hpp"
#include "calib/rain/rain_meter.hpp"
#include "calib/rain/rain_sum.hpp"

namespace tipwright::calib::rain {

// What a meter makes of tips, in the order in which it came by it.
struct Piece {
    enum class Is {
        water,       // filling
        event_ends,  //
        covered,     // the log holds data of this time, rain or none; water says so itself
        gap,         // it holds none
        end,         // of everything
    };
    Is is = Is::end;
    double from_s = 0, until_s = 0;
    Filling filling{};
};

// Of what stands in a siphon's chamber, mm2: anything from nothing to all.
double chamber_variance(const RainGauge& gauge);

class RainPeriods {
public:
    // The tip at rest is that of the first calibration. Gauge and settings outlive it.
    RainPeriods(const RainGauge& gauge, const std::vector<RainCalibration>& calibrations,
                const RainSettings& settings, RainMeter::Sink sink);

    void take(const Piece& piece);

private:
    void pour(const Filling& filling);
    void close_event();
    void covers(double from_s, double until_s);
    void gap(double from_s, double until_s);
    void finish();
    struct Span {
        double from_s, until_s;
    };

    // Of a year, the fullest of each length so far.
    struct Largest {
        FullestWindow window;
        RainAmount amount;
    };
    void look_for_largest(double from_s, double until_s, const Filling& filling);
    RainAmount amount_within(double from_s, double until_s, RainPeriod period);
    RainAmount amount_of(const RainSum& sum, RainPeriod period);
    double factor(double dof);
    void note_missing(RainSum& sum) const;
    double outside_log_s(const RainSum& sum) const;
    void close_minute();
    void close_hour();
    void settle();
    void roll(const RainSum& first);
    void begin(RainSum& sum, double from_s, double until_s, const RainSum& first) const;
    void close(RainSum& sum, RainPeriod period, RainSum& longer);
    void close_day() { close(day_, RainPeriod::day, month_); }
    void close_month() { close(month_, RainPeriod::month, year_); }
    void close_year();
    void add(RainSum& sum, const Filling& filling, double count) const;
    template <class Close>
    bool enter(RainSum& bin, double t, double step, const Filling& filling, const Close& close);
    void fill(RainSum& bin, double from, double until, const Filling& filling);

    const RainGauge& gauge_;
    const RainSettings& settings_;
    double resting_variance_;  // of what a bucket holds when it rests, mm2
    RainMeter::Sink sink_;
    RainSum minute_, hour_, day_, month_, year_, total_, event_;
    RainSum lately_;  // of the hour, event and reign in hand: not yet in the longer periods and the event
    std::array<Largest, 3> largest_{
        {{FullestWindow(60), {}}, {FullestWindow(300), {}}, {FullestWindow(3600), {}}}};
    std::vector<Filling> recent_;  // of the longest of them and some before
    std::size_t recent_kept_ = 64;
    double event_last_s_ = 0;
    double log_from_s_ = std::numeric_limits<double>::infinity();
    double log_until_s_ = -std::numeric_limits<double>::infinity();
    bool log_ended_ = false;
    std::vector<Span> gaps_;  // of the year in hand
    double normal_k_ = 0;
    std::vector<double> kept_k_;  // by sixteenths of the degrees of freedom; 0: not computed yet
};

}  // namespace tipwright::calib::rain
