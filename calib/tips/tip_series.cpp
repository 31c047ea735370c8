#include "calib/tips/tip_series.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "calib/tips/observe.hpp"

namespace tipwright::calib {

namespace {

// Before so many, too little of it has arrived to tell how much it is.
constexpr double telling_lags = 0.8;
constexpr double plateau_window_s = 5;
constexpr double short_window_s = 0.5;
constexpr double not_weighed = std::numeric_limits<double>::quiet_NaN();

class Weigher {
public:
    Weigher(std::span<const Tip> tips, std::span<const WeightPoint> weights, const BenchMetrology& bench)
        : tips_(tips), weights_(weights), bench_(bench) {}

    // The end of the plateau, so that a discharge that no closure told of is not averaged over.
    double plateau_g(std::size_t k) const {
        const double settled_s = settled_after_s(k);
        const double to_s = k + 1 < tips_.size() ? next_s(k) : settled_s + bench_.discharge_lag_s;
        return mean_of_readings_g(std::max(settled_s, to_s - plateau_window_s), to_s);
    }

    double interval_mean_g(std::size_t k) const {
        if (k + 1 >= tips_.size()) return not_weighed;
        const auto mean = window_mean(weights_, tips_[k].time_s, tips_[k + 1].time_s);
        return mean ? mean->mean_g : not_weighed;
    }

    double pause_change_g(std::size_t k) const {
        if (k + 1 >= tips_.size() || next_s(k) - settled_after_s(k) < 2 * short_window_s) return not_weighed;
        return mean_of_readings_g(next_s(k) - short_window_s, next_s(k)) -
               mean_of_readings_g(settled_after_s(k), settled_after_s(k) + short_window_s);
    }

    // Tips of a siphon come faster than the balance settles. From one look at the balance to the next the
    // part 1 - exp(-(time since its tip - delay) / lag) of a new tip's water arrives, and of what was under
    // way the part 1 - exp(-(time between looks) / lag).
    std::vector<double> arriving_g(std::size_t opening, std::size_t closing) const {
        std::vector<double> masses;
        double level_g = not_weighed;
        double under_way_g = not_weighed;
        double looked_at_s = 0;
        for (std::size_t k = opening; k <= closing; ++k) {
            const double arrives_s = tips_[k].time_s + bench_.discharge_delay_s;
            const double to_s = k + 1 < tips_.size()
                                    ? next_s(k)
                                    : arrives_s + (arrived_after_lags + 1) * bench_.discharge_lag_s;
            const double from_s = std::max(to_s - short_window_s, arrives_s);
            const double look_s = (from_s + to_s) / 2;
            const double lags = (look_s - arrives_s) / bench_.discharge_lag_s;
            const double now_g = lags >= telling_lags ? mean_of_readings_g(from_s, to_s) : not_weighed;
            const double missing = std::exp(-lags);
            const double still = std::exp(-(look_s - looked_at_s) / bench_.discharge_lag_s);
            const double mass_g = (now_g - level_g - under_way_g * (1 - still)) / (1 - missing);
            if (k > opening) masses.push_back(mass_g);
            under_way_g = lags >= arrived_after_lags - 1 ? 0 : under_way_g * still + mass_g * missing;
            level_g = now_g;
            looked_at_s = look_s;
        }
        return masses;
    }

private:
    double settled_after_s(std::size_t k) const {
        return tips_[k].time_s + bench_.discharge_delay_s + arrived_after_lags * bench_.discharge_lag_s;
    }
    double next_s(std::size_t k) const { return tips_[k + 1].time_s - guard_before_next_tip_s; }

    double mean_of_readings_g(double from_s, double to_s) const {
        const auto before = [](const WeightPoint& point, double time_s) { return point.time_s < time_s; };
        double sum = 0;
        int readings = 0;
        for (auto point = std::lower_bound(weights_.begin(), weights_.end(), from_s, before);
             point != weights_.end() && point->time_s <= to_s; ++point, ++readings)
            sum += point->mass_g;
        return readings > 0 ? sum / readings : not_weighed;
    }

    std::span<const Tip> tips_;
    std::span<const WeightPoint> weights_;
    const BenchMetrology& bench_;
};

}  // namespace

TipSeries series_of(std::span<const Tip> tips, std::size_t opening, std::size_t closing,
                    std::span<const WeightPoint> weights, const Gauge& gauge, const BenchMetrology& bench) {
    TipSeries series;
    series.compartments = gauge.compartments;
    series.regular = gauge.inlet == Inlet::straight;
    series.nominal_mL = gauge.nominal_tip_mL();
    series.longest_in_emptying_s = series.regular ? 0 : siphon_pause_s(bench);
    const Weigher weigher(tips, weights, bench);
    for (std::size_t k = opening; k < closing; ++k) {
        series.interval_s.push_back(tips[k + 1].time_s - tips[k].time_s);
        series.pause_change_g.push_back(weigher.pause_change_g(k + 1));
    }
    if (!series.regular) {
        series.mass_g = weigher.arriving_g(opening, closing);
        return series;
    }
    double plateau_g = weigher.plateau_g(opening);
    double mean_g = weigher.interval_mean_g(opening);
    for (std::size_t k = opening + 1; k <= closing; ++k) {
        const double next_plateau_g = weigher.plateau_g(k);
        const double next_mean_g = weigher.interval_mean_g(k);
        series.mass_g.push_back(next_plateau_g - plateau_g);
        series.rise_g.push_back(next_mean_g - mean_g);
        plateau_g = next_plateau_g;
        mean_g = next_mean_g;
    }
    return series;
}

}  // namespace tipwright::calib
