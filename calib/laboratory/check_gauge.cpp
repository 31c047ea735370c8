#include "calib/laboratory/check_gauge.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace tipwright::calib {

namespace {

// Set intensities are written in descriptions: the same number is the same intensity.
std::map<double, double> errors_of(const CheckRun& run) {
    std::map<double, std::pair<double, int>> sums;
    for (const StepResult& step : run.steps) {
        auto& [sum, count] = sums[step.observation.set_intensity_mm_h];
        sum += step.error_percent.value;
        ++count;
    }
    std::map<double, double> out;
    for (const auto& [intensity, sum] : sums)
        if (intensity > 0) out[intensity] = sum.first / sum.second;
    return out;
}

std::vector<VarianceFactor> factors_of(const std::vector<CheckRun>& runs) {
    std::vector<VarianceFactor> out{{"bench", {}}, {"operator", {}}, {"day", {}}};
    std::map<std::string, int> benches, operators, days;
    const auto number = [](std::map<std::string, int>& known, const std::string& name) {
        return known.try_emplace(name, static_cast<int>(known.size())).first->second;
    };
    for (const CheckRun& run : runs) {
        out[0].level.push_back(number(benches, run.bench));
        out[1].level.push_back(number(operators, run.operator_name));
        out[2].level.push_back(number(days, run.moment.substr(0, 10)));
    }
    return out;
}

// Which runs have a signal: 0 none, 1 by the weighted mean alone, which remembers runs before, 2 by their own
// value.
std::vector<int> signalled(const std::vector<ControlChart>& charts, std::size_t runs) {
    std::vector<int> out(runs, 0);
    for (const ControlChart& chart : charts)
        for (const ControlSignal& signal : chart.signals)
            out[signal.at] = std::max(out[signal.at], signal.rule == ControlRule::weighted_mean ? 1 : 2);
    return out;
}

// The first day on which something was done about that run's alarm; empty: none.
std::string answered_on(const std::string& moment, const std::vector<ControlAction>& actions) {
    const auto first = std::find_if(actions.begin(), actions.end(),
                                    [&](const ControlAction& one) { return moment.substr(0, 10) <= one.on; });
    return first == actions.end() ? "" : first->on;
}

bool is_answered(const std::string& moment, const std::vector<ControlAction>& actions) {
    return !answered_on(moment, actions).empty();
}

// Values of one chart, and how they are judged.
struct ChartAsked {
    double intensity_mm_h = 0;
    std::vector<double> values;
    ControlSettings settings;
};

Result<std::vector<ControlChart>> charts_of(const std::vector<ChartAsked>& asked,
                                            const std::vector<std::size_t>& restarts) {
    std::vector<ControlChart> out;
    for (const ChartAsked& one : asked) {
        ControlSettings settings = one.settings;
        settings.restarts = restarts;
        auto chart = control_chart(one.values, settings);
        if (!chart) return chart.fault();
        out.push_back(std::move(*chart));
    }
    return out;
}

// Charts that begin anew after each run whose alarm was answered.
Result<std::vector<ControlChart>> restarted(const std::vector<ChartAsked>& asked,
                                            const std::vector<std::string>& moments,
                                            const std::vector<ControlAction>& actions) {
    std::vector<std::size_t> restarts;
    auto charts = charts_of(asked, restarts);
    for (const ControlAction& action : actions) {
        if (!charts) break;
        const std::vector<int> seen = signalled(*charts, moments.size());
        std::size_t after = 0;
        for (const int least : {2, 1}) {
            for (std::size_t i = 0; after == 0 && i < seen.size(); ++i) {
                const std::size_t run = seen.size() - 1 - i;
                if (seen[run] >= least && moments[run].substr(0, 10) <= action.on) after = run + 1;
            }
        }
        if (after == 0 || (!restarts.empty() && after <= restarts.back())) continue;
        restarts.push_back(after);
        charts = charts_of(asked, restarts);
    }
    return charts;
}

void find_alarm(CheckAnalysis& analysis) {
    const std::size_t runs = analysis.moments.size();
    std::vector<bool> stands(runs, false);
    bool last = false;
    for (const CheckChart& one : analysis.charts)
        for (const ControlSignal& signal : one.chart.signals) {
            last = last || signal.at + 1 == runs;
            if (signal.at >= one.chart.baseline || signal.rule == ControlRule::beyond_limit)
                stands[signal.at] = true;
        }
    for (std::size_t i = 0; i < runs && !analysis.alarm_at; ++i)
        if (stands[i] && !is_answered(analysis.moments[i], analysis.actions)) analysis.alarm_at = i;
    if (analysis.alarm_at) return;
    // A good run between the alarm and what was done about it, however long that took, shows nothing.
    for (std::size_t i = 0; i < runs && !analysis.alarm_at; ++i)
        if (stands[i] &&
            answered_on(analysis.moments[i], analysis.actions) >= analysis.moments.back().substr(0, 10))
            analysis.alarm_at = i;
    analysis.answered = analysis.alarm();
    if (analysis.alarm_at || !last) return;
    analysis.alarm_at = runs - 1;
    analysis.answered = is_answered(analysis.moments.back(), analysis.actions);
}

}  // namespace

Result<CheckAnalysis> analyse_check_gauge(const std::vector<CheckRun>& runs, const ControlSettings& settings,
                                          std::vector<ControlAction> actions) {
    if (runs.size() < least_baseline)
        return Fault{
            FaultCode::too_few_points,
            std::to_string(runs.size()) + (runs.size() == 1 ? " run sets" : " runs set") + " no limits",
            "check gauge", "calibrate it at least " + std::to_string(least_baseline) + " times"};
    CheckAnalysis out;
    std::stable_sort(actions.begin(), actions.end(),
                     [](const ControlAction& a, const ControlAction& b) { return a.on < b.on; });
    out.actions = std::move(actions);
    std::vector<std::map<double, double>> errors;
    for (const CheckRun& run : runs) {
        errors.push_back(errors_of(run));
        out.moments.push_back(run.moment);
    }
    for (const auto& [intensity, error] : errors.front())
        if (std::all_of(errors.begin(), errors.end(),
                        [i = intensity](const auto& one) { return one.count(i) > 0; }))
            out.intensities_mm_h.push_back(intensity);
    if (out.intensities_mm_h.empty())
        return Fault{FaultCode::too_few_points, "the runs have no intensity in common", "check gauge",
                     "run it with one and the same plan"};
    const auto count = static_cast<double>(out.intensities_mm_h.size());
    const auto factors = factors_of(runs);
    std::vector<ChartAsked> asked;
    std::vector<double> means;
    for (const auto& one : errors) {
        double sum = 0;
        for (const double intensity : out.intensities_mm_h) sum += one.at(intensity);
        means.push_back(sum / count);
    }
    asked.push_back({0, std::move(means), settings});
    ControlSettings single = settings;
    single.centre.reset();
    single.sd.reset();
    single.runs_rules = single.weighted_mean = false;
    single.tail = settings.tail / count;
    for (const double intensity : out.intensities_mm_h) {
        std::vector<double> values;
        values.reserve(errors.size());
        for (const auto& one : errors) values.push_back(one.at(intensity));
        asked.push_back({intensity, std::move(values), single});
    }
    auto charts = restarted(asked, out.moments, out.actions);
    if (!charts) return charts.fault();
    for (std::size_t c = 0; c < asked.size(); ++c) {
        auto parts = part_variances(asked[c].values, factors);
        if (!parts) return parts.fault();
        out.charts.push_back({asked[c].intensity_mm_h, std::move((*charts)[c]), std::move(*parts)});
    }
    find_alarm(out);
    for (std::size_t c = 1; c < out.charts.size(); ++c) {
        const double intensity = out.charts[c].intensity_mm_h;
        CapabilityInput capable;
        capable.intensity_mm_h = intensity;
        for (const CheckRun& run : runs)
            for (const StepResult& step : run.steps)
                if (step.observation.set_intensity_mm_h == intensity) capable.steps.push_back(&step);
        capable.precision_sd = out.charts[c].parts.total_sd;
        capable.precision_dof = out.charts[c].parts.total_dof;
        auto capability = capability_at(capable);
        if (!capability) return capability.fault();
        out.capabilities.push_back(*capability);
    }
    return out;
}

}  // namespace tipwright::calib
