#include "calib/tips/collect_check.hpp"

#include <algorithm>
#include <iterator>

#include "calib/tips/shift_checks.hpp"
#include "calib/tips/tip_checks.hpp"

namespace tipwright::calib {

namespace {

// Over fewer the water still held at the edges may be a quarter of all.
constexpr int fewest_tips_for_flow = 4;

void append(std::vector<Finding>&& more, std::vector<Finding>& all) {
    all.insert(all.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
}

void append(std::optional<Finding>&& more, std::vector<Finding>& all) {
    if (more) all.push_back(std::move(*more));
}

// Closures from the opening to the closing tip. A tip's time is that of its first closure.
std::vector<Closure> closures_within(std::span<const Edge> edges, bool normally_closed, double debounce_s,
                                     double from_s, double to_s) {
    std::vector<Closure> closures = closures_of(edges, normally_closed, debounce_s);
    std::erase_if(closures, [&](const Closure& closure) {
        return closure.time_s < from_s || closure.time_s >= to_s + debounce_s;
    });
    return closures;
}

}  // namespace

std::vector<Finding> check_collect(const CollectEvidence& evidence, const StepObservation& observation,
                                   const Gauge& gauge, const BenchMetrology& bench, double false_alarm_rate) {
    std::vector<Finding> all;
    const double from_s = evidence.tips[evidence.opening].time_s;
    const double to_s = evidence.tips[evidence.closing].time_s;
    std::vector<std::vector<Closure>> closures;
    for (std::size_t contact = 0; contact < std::min(gauge.contacts.size(), max_contacts); ++contact) {
        closures.push_back(closures_within(evidence.edges[contact], gauge.contacts[contact].normally_closed,
                                           gauge.debounce_s, from_s, to_s));
        append(check_bounce(closures.back(), static_cast<int>(contact) + 1, gauge.debounce_s), all);
    }
    if (closures.size() == 2) {
        const auto seen =
            reconcile(closures[0], closures[1], gauge.debounce_s, gauge.inlet == Inlet::straight);
        append(check_contacts(seen, gauge.debounce_s, gauge.compartments, false_alarm_rate), all);
    }
    TipSeries series =
        series_of(evidence.tips, evidence.opening, evidence.closing, evidence.weights, gauge, bench);
    const double duration_s = observation.duration_s.value_or(0);
    if (observation.tips >= fewest_tips_for_flow && duration_s > 0 && observation.balance_difference_g > 0) {
        // A gram is a millilitre within 0.3 %: enough here.
        series.flow_mL_s = observation.balance_difference_g / duration_s;
        append(check_dead_compartment(observation.balance_difference_g / observation.tips, series.flow_mL_s,
                                      gauge, false_alarm_rate),
               all);
    }
    // The set flow is held within a few per cent; that of a few tips may be a tip off.
    if (observation.set_intensity_mm_h > 0)
        series.flow_mL_s = flow_mL_min(observation.set_intensity_mm_h, gauge.catch_area_cm2().value) / 60;
    std::vector<Finding> false_tips = check_phantom_tips(series, false_alarm_rate);
    // False and lost tips have water that fits no interval.
    if (false_tips.empty())
        append(check_balance_disturbance(series, bench.balance, observation.balance_difference_g,
                                         false_alarm_rate),
               all);
    // They put the order of the compartments out too.
    if (false_tips.empty()) append(check_shift(series, false_alarm_rate), all);
    append(std::move(false_tips), all);
    append(check_funnel_trend(series, allowed_growth_percent_h, false_alarm_rate), all);
    return all;
}

}  // namespace tipwright::calib
