// Synthetic collects with and without a fault, for the detectors' false-alarm and missed-alarm rates.
// Each case draws a gauge and a collect at random: 12 to 60 tips, intervals 2 to 120 s, compartments up to 12
// % apart, single tips scattering 0.2 to 1.5 % (normal), weighed where the pause is long enough.
#pragma once

#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <vector>

#include "calib/tips/contacts.hpp"
#include "calib/tips/tip_checks.hpp"

namespace tipwright::calib::synthetic {

class Dice {
public:
    explicit Dice(std::uint64_t seed) : engine_(seed) {}
    double uniform(double low, double high) {
        return low + (high - low) * static_cast<double>(engine_() >> 11) / 9007199254740992.0;
    }
    // Box and Muller, so that every standard library draws the same.
    double normal(double mean, double sd) {
        const double radius = std::sqrt(-2 * std::log(1 - uniform(0, 1)));
        return mean + sd * radius * std::cos(6.283185307179586 * uniform(0, 1));
    }
    int whole(int low, int high) { return low + static_cast<int>(uniform(0, high - low + 1)); }

private:
    std::mt19937_64 engine_;
};

struct Collect {
    TipSeries series;
    double mean_interval_s = 0;
    double tip_g = 0;
    double scatter = 0;  // relative
    double excess = 0;   // of A, relative
};

// contacts: how many; weighing: false leaves only the intervals.
inline Collect ordinary_collect(Dice& dice, bool weighing) {
    Collect out;
    out.series.compartments = dice.uniform(0, 1) < 0.7 ? 2 : 1;
    out.mean_interval_s = std::exp(dice.uniform(std::log(2.0), std::log(120.0)));
    out.tip_g = dice.uniform(1.5, 8);
    out.scatter = dice.uniform(0.002, 0.015);
    out.excess = out.series.compartments == 2 ? dice.uniform(-0.06, 0.06) : 0;
    // Nominal volume and flow are known as a bench knows them.
    out.series.nominal_mL = out.tip_g / (1 + dice.normal(0, 0.05));
    out.series.flow_mL_s = out.tip_g / out.mean_interval_s * (1 + dice.normal(0, 0.01));
    const int tips = dice.whole(12, 60);
    const double balance_noise_g = 0.02;
    double last_noise_g = dice.normal(0, balance_noise_g);
    for (int k = 0; k < tips; ++k) {
        const double side = out.series.compartments == 2 && k % 2 == 1 ? -1 : 1;
        const double volume = (1 + side * out.excess) * (1 + dice.normal(0, out.scatter));
        out.series.interval_s.push_back(out.mean_interval_s * volume);
        const double noise_g = dice.normal(0, balance_noise_g);
        const bool seen = weighing && out.mean_interval_s > 6;
        out.series.mass_g.push_back(seen ? out.tip_g * volume + noise_g - last_noise_g
                                         : std::numeric_limits<double>::quiet_NaN());
        last_noise_g = noise_g;
    }
    return out;
}

// A closure without movement: the contact is shaken, the water stays where it is.
inline void add_phantom_closure(Collect& collect, Dice& dice) {
    TipSeries& series = collect.series;
    const auto k = static_cast<std::size_t>(dice.whole(1, static_cast<int>(series.interval_s.size()) - 2));
    const double part = dice.uniform(0.05, 0.95);
    const double interval_s = series.interval_s[k];
    series.interval_s[k] = part * interval_s;
    series.interval_s.insert(series.interval_s.begin() + static_cast<std::ptrdiff_t>(k) + 1,
                             (1 - part) * interval_s);
    // Nothing was discharged at the false closure; all of it at the true one behind.
    const double mass_g = series.mass_g[k];
    series.mass_g[k] = std::isfinite(mass_g) ? dice.normal(0, 0.03) : mass_g;
    series.mass_g.insert(series.mass_g.begin() + static_cast<std::ptrdiff_t>(k) + 1, mass_g);
}

// A bucket that is knocked over early, with part of its water.
inline void add_early_tip(Collect& collect, Dice& dice) {
    TipSeries& series = collect.series;
    const auto k = static_cast<std::size_t>(dice.whole(1, static_cast<int>(series.interval_s.size()) - 1));
    const double part = dice.uniform(0.05, 0.6);
    series.interval_s[k] *= part;
    series.mass_g[k] *= part;
}

// One closure is lost: two tips seem one.
inline void lose_closure(Collect& collect, Dice& dice) {
    TipSeries& series = collect.series;
    const auto k = static_cast<std::size_t>(dice.whole(1, static_cast<int>(series.interval_s.size()) - 2));
    series.interval_s[k] += series.interval_s[k + 1];
    series.mass_g[k] += series.mass_g[k + 1];
    series.interval_s.erase(series.interval_s.begin() + static_cast<std::ptrdiff_t>(k) + 1);
    series.mass_g.erase(series.mass_g.begin() + static_cast<std::ptrdiff_t>(k) + 1);
}

// What passes the funnel falls linearly to a part of the inflow at the end of the collect.
inline void block_funnel(Collect& collect, double part_at_end) {
    TipSeries& series = collect.series;
    const auto n = static_cast<double>(series.interval_s.size());
    for (std::size_t k = 0; k < series.interval_s.size(); ++k)
        series.interval_s[k] /= 1 - (1 - part_at_end) * (static_cast<double>(k) + 0.5) / n;
}

// Edges of one contact over the tips' times: bounce, closure of 60 to 120 ms.
struct ContactEdges {
    std::vector<Edge> edges;
    std::vector<double> times_s;
};

inline ContactEdges contact_edges(const std::vector<double>& tips_s, double delay_s, double jitter_s,
                                  bool normally_closed, Dice& dice) {
    ContactEdges out;
    for (const double tip_s : tips_s) {
        double time_s = tip_s + dice.normal(delay_s, jitter_s);
        out.times_s.push_back(time_s);
        const double opens_s = time_s + dice.uniform(0.06, 0.12);
        out.edges.push_back({!normally_closed, time_s});
        for (int bounce = dice.whole(0, 4); bounce > 0; --bounce) {
            time_s += dice.uniform(0.0002, 0.004);
            out.edges.push_back({normally_closed, time_s});
            time_s += dice.uniform(0.0002, 0.004);
            out.edges.push_back({!normally_closed, time_s});
        }
        out.edges.push_back({normally_closed, opens_s});
    }
    return out;
}

inline std::vector<double> tip_times(const Collect& collect) {
    std::vector<double> times{10};
    for (const double interval_s : collect.series.interval_s) times.push_back(times.back() + interval_s);
    return times;
}

// Losses of a covered vessel seen on plateaus of a slow step.
inline std::vector<LossPoint> losses(Dice& dice, double at_start_g_h, double at_end_g_h) {
    std::vector<LossPoint> out;
    const int plateaus = dice.whole(8, 40);
    const double noise_g_h = dice.uniform(0.01, 0.05);
    for (int k = 0; k < plateaus; ++k) {
        const double part = static_cast<double>(k) / (plateaus - 1);
        const double u = noise_g_h * dice.uniform(0.7, 1.5);
        out.push_back({3600 * (0.2 + 1.5 * part),
                       dice.normal(at_start_g_h + (at_end_g_h - at_start_g_h) * part, u), u});
    }
    return out;
}

}  // namespace tipwright::calib::synthetic
