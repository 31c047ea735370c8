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

}  // namespace

bool CheckAnalysis::alarm() const {
    return std::any_of(charts.begin(), charts.end(), [](const CheckChart& one) { return one.chart.alarm(); });
}

Result<CheckAnalysis> analyse_check_gauge(const std::vector<CheckRun>& runs,
                                          const ControlSettings& settings) {
    if (runs.size() < least_baseline)
        return Fault{
            FaultCode::too_few_points,
            std::to_string(runs.size()) + (runs.size() == 1 ? " run sets" : " runs set") + " no limits",
            "check gauge", "calibrate it at least " + std::to_string(least_baseline) + " times"};
    CheckAnalysis out;
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
    const auto add = [&](double intensity, const std::vector<double>& values,
                         const ControlSettings& how) -> Outcome {
        auto chart = control_chart(values, how);
        if (!chart) return chart.fault();
        auto parts = part_variances(values, factors);
        if (!parts) return parts.fault();
        out.charts.push_back({intensity, std::move(*chart), std::move(*parts)});
        return Done{};
    };
    std::vector<double> means;
    for (const auto& one : errors) {
        double sum = 0;
        for (const double intensity : out.intensities_mm_h) sum += one.at(intensity);
        means.push_back(sum / count);
    }
    if (auto done = add(0, means, settings); !done) return done.fault();
    ControlSettings single = settings;
    single.centre.reset();
    single.sd.reset();
    single.runs_rules = single.weighted_mean = false;
    single.tail = settings.tail / count;
    for (const double intensity : out.intensities_mm_h) {
        std::vector<double> values;
        CapabilityInput capable;
        capable.intensity_mm_h = intensity;
        for (std::size_t i = 0; i < runs.size(); ++i) {
            values.push_back(errors[i].at(intensity));
            for (const StepResult& step : runs[i].steps)
                if (step.observation.set_intensity_mm_h == intensity) capable.steps.push_back(&step);
        }
        if (auto done = add(intensity, values, single); !done) return done.fault();
        capable.precision_sd = out.charts.back().parts.total_sd;
        capable.precision_dof = out.charts.back().parts.total_dof;
        auto capability = capability_at(capable);
        if (!capability) return capability.fault();
        out.capabilities.push_back(*capability);
    }
    return out;
}

}  // namespace tipwright::calib
