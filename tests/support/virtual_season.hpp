// A gauge calibrated on the virtual bench, then out in virtual rain: what its tips give with its own
// calibration, beside what fell.
#pragma once

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "bench/virtual_bench/rain_gauge.hpp"
#include "calib/rain/rain_meter.hpp"
#include "calib/rain/tip_feed.hpp"
#include "calib/tips/pooled_scatter.hpp"
#include "tests/support/virtual_run.hpp"

namespace tipwright::test {

struct SeasonInputs {
    VirtualRunInputs run;
    bench::RainClimate climate;
    double days = 30;
    std::uint64_t rain_seed = 1;
    double logger_step_s = 0.01;  // tips are logged to this
    double counts_s = 0;          // not 0: counts of this interval instead
    calib::RainSettings settings;
    // Instead of the virtual rain: intensities of 10 s each, mm/h.
    std::vector<double> own_rain;
};

struct SeasonAmount {
    calib::RainAmount amount;
    double true_mm = 0;
};

struct Season {
    std::string fault;
    std::vector<SeasonAmount> amounts;
    calib::RainSigns signs;
    double fallen_mm = 0;
    double within_total_mm = 0;  // from the total's first moment to its last
    std::string form;            // of the rate model
};

inline Result<std::vector<calib::RainCalibration>> calibration_of(const VirtualRun& run,
                                                                  const calib::Gauge& gauge) {
    if (!run.evaluation || !run.evaluation->model)
        return Fault{FaultCode::inconsistent, "no model: " + run.fault, "virtual run", ""};
    auto curve = calib::DepthCurve::make(*run.evaluation->model, gauge);
    if (!curve) return curve.fault();
    std::vector<calib::RainCalibration> out(1);
    out[0].left = std::move(*curve);
    return out;
}

inline calib::RainGauge rain_gauge_of(const VirtualRun& run, const calib::Gauge& gauge) {
    return calib::rain_gauge(gauge, calib::observations_of(*run.evaluation));
}

// What fell is known at these times; straight between. The virtual rain changes once a second.
inline constexpr double amounts_every_s = 1;

// The most that fell in so many seconds, wherever they begin. fallen: what had fallen at the end of each
// second.
inline double most_in(const std::vector<double>& fallen, std::size_t seconds) {
    double most = fallen.empty() ? 0 : fallen[std::min(seconds, fallen.size()) - 1];
    for (std::size_t i = seconds; i < fallen.size(); ++i)
        most = std::max(most, fallen[i] - fallen[i - seconds]);
    return most;
}

inline Season run_season(const SeasonInputs& in) {
    Season out;
    const std::filesystem::path templates = std::filesystem::path(source_dir()) / "templates";
    const auto gauge = bench::load_gauge(in.run.gauge, templates);
    const auto bench_description = bench::load_bench(in.run.bench, templates);
    VirtualRunInputs inputs = in.run;
    inputs.with_truth = false;
    const VirtualRun run = run_virtual(inputs);
    auto reigns = run.fault.empty() ? calibration_of(run, gauge->gauge)
                                    : Result<std::vector<calib::RainCalibration>>(
                                          Fault{FaultCode::inconsistent, run.fault, "virtual run", ""});
    if (!reigns) {
        out.fault = reigns.fault().line();
        return out;
    }
    out.form = calib::name_of(run.evaluation->model->chosen);
    const auto errors = bench::draw_errors(gauge->gauge, *bench_description->truth,
                                           bench_description->metrology, in.run.seed);
    bench::RainGauge standing(gauge->gauge, bench::truth_of_one(*gauge->truth, errors),
                              errors.catch_diameter_mm, in.rain_seed);
    standing.keep_amounts(amounts_every_s);
    bench::VirtualRain rain = in.own_rain.empty()
                                  ? bench::VirtualRain(in.climate, in.days * 86400, in.rain_seed)
                                  : bench::VirtualRain(in.own_rain, 10);
    const auto tips = standing.stand_in(rain, in.days * 86400);
    const auto& fallen = standing.amounts_mm();
    out.fallen_mm = standing.fallen_mm();
    const auto fallen_by = [&](double t) {
        const double at = t / amounts_every_s;
        if (!(at > 0)) return 0.0;
        const auto whole = static_cast<std::size_t>(at);
        if (whole >= fallen.size()) return fallen.back();
        const double before = whole == 0 ? 0 : fallen[whole - 1];
        return before + (at - static_cast<double>(whole)) * (fallen[whole] - before);
    };
    calib::RainSettings settings = in.settings;
    settings.resolution_s = in.logger_step_s;
    calib::FeedSettings feed;
    feed.bounce_s = gauge->gauge.debounce_s;
    feed.two_contacts = gauge->gauge.contacts.size() > 1;
    feed.resolution_s = in.logger_step_s;
    std::vector<calib::LogEntry> entries;
    if (in.counts_s > 0) {
        feed.counts = true;
        settings.count_interval_s = in.counts_s;
        feed.two_contacts = false;
        feed.interval_s = in.counts_s;
        settings.step_s = std::max(60.0, in.counts_s);
        settings.spread_limit_s = std::max(settings.spread_limit_s, 2 * settings.step_s);
        const auto bins = static_cast<std::size_t>(in.days * 86400 / in.counts_s);
        entries.resize(bins);
        for (std::size_t i = 0; i < bins; ++i) entries[i].time_s = static_cast<double>(i + 1) * in.counts_s;
        double last = -1e9;
        for (const auto& tip : tips) {
            if (tip.contact != 1 || tip.time_s - last < feed.bounce_s) continue;
            last = tip.time_s;
            const auto bin = static_cast<std::size_t>(tip.time_s / in.counts_s);
            if (bin < bins) ++entries[bin].count;
        }
    } else {
        for (const auto& tip : tips) {
            calib::LogEntry entry;
            entry.time_s = std::round(tip.time_s / in.logger_step_s) * in.logger_step_s;
            entry.contact = tip.contact;
            entries.push_back(entry);
        }
    }
    calib::RainMeter meter(
        rain_gauge_of(run, gauge->gauge), std::move(*reigns), settings, [&](const calib::RainAmount& amount) {
            out.amounts.push_back({amount, fallen_by(amount.until_s) - fallen_by(amount.from_s)});
        });
    calib::TipFeed tip_feed(feed, meter);
    for (const auto& entry : entries)
        if (auto taken = tip_feed.take(entry); !taken) out.fault = taken.fault().line();
    if (auto done = tip_feed.finish(); !done) out.fault = done.fault().line();
    // The total is all that fell while the logger ran, also what had begun to fill the gauge before its first
    // tip's shower is known to have begun.
    for (auto& [amount, true_mm] : out.amounts) {
        if (amount.period != calib::RainPeriod::total) continue;
        out.within_total_mm = true_mm;
        true_mm = out.fallen_mm;
    }
    // Of the year that the rain falls in; what a first tip brings from before it is a year of its own.
    for (auto& [amount, true_mm] : out.amounts)
        if (amount.period >= calib::RainPeriod::largest_1 && amount.from_s >= 0)
            true_mm = most_in(fallen, static_cast<std::size_t>(std::lround(amount.until_s - amount.from_s)));
    // An event's rain lies between the middles of the dry stretches around it.
    std::vector<SeasonAmount*> events;
    for (auto& amount : out.amounts)
        if (amount.amount.period == calib::RainPeriod::event) events.push_back(&amount);
    for (std::size_t i = 0; i < events.size(); ++i) {
        const auto& amount = events[i]->amount;
        const double from = i == 0 ? 0 : (events[i - 1]->amount.until_s + amount.from_s) / 2;
        const double until =
            i + 1 == events.size() ? in.days * 86400 : (amount.until_s + events[i + 1]->amount.from_s) / 2;
        events[i]->true_mm = fallen_by(until) - fallen_by(from);
    }
    out.signs = meter.signs();
    return out;
}

}  // namespace tipwright::test
