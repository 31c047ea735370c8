#include "calib/rate/correction.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "calib/base/rounding.hpp"
#include "calib/rate/capability_floor.hpp"
#include "calib/statistics/budget.hpp"

namespace tipwright::calib {

namespace {

// A volume in mL over an area in cm2 is ten times as many millimetres.
constexpr double mm_per_mL_per_cm2 = 10;
// How far outside the calibrated flows a tip may fall before its depth is refused: the set flow is held
// to 2 %, and the tips of a step scatter about its mean.
constexpr double range_margin = 1.02;

std::string interval_where(double interval_s) {
    return "tip interval " + fixed(interval_s, 3) + " s";
}

// Solves v(Q) = Q T for Q: the flow that fills one tip in the interval. v(Q)/Q falls with Q for every
// form whose volume grows slower than its flow, which a movement time shorter than the interval ensures.
Result<double> flow_of_interval(const RateModel& model, double interval_s) {
    double low = model.flow_min_mL_s / range_margin;
    double high = model.flow_max_mL_s * range_margin;
    const auto excess = [&](double flow) { return model.volume_at(flow).value - flow * interval_s; };
    if (!(excess(low) >= 0 && excess(high) <= 0)) {
        return Fault{FaultCode::bad_value, "the interval lies outside the calibrated range",
                     interval_where(interval_s),
                     "use the correction only over the intensities of the certificate"};
    }
    for (int i = 0; i < 200 && high - low > 1e-15 * high; ++i) {
        const double middle = (low + high) / 2;
        (excess(middle) > 0 ? low : high) = middle;
    }
    return (low + high) / 2;
}

// Intensities people look for in a table; those within the range are taken.
constexpr std::array<double, 24> round_intensities_mm_h = {
    1, 2, 3, 5, 7.5, 10, 15, 20, 30, 40, 50, 75, 90, 100, 130, 150, 170, 200, 250, 300, 350, 400, 450, 500};

std::string number(double value, const Uncertain& with) {
    return round_with_uncertainty(value, expanded(with).U).value;
}

// Two more digits than the uncertainty earns: the formula is to reproduce the table, not to state it.
std::string for_computing(const Uncertain& parameter) {
    const int decimals = std::clamp(decimals_earned(expanded(parameter).U) + 2, 0, 9);
    return fixed(parameter.value, decimals);
}

std::string formula_of(const RateModel& model, double area_cm2, double min_s, double max_s,
                       const Gauge& gauge) {
    const RateCandidate* fit = model.chosen_candidate();
    const std::string range = "; T from " + fixed(min_s, 2) + " s to " + fixed(max_s, 1) + " s";
    const std::string meaning = gauge.inlet == Inlet::siphon
                                    ? "T = mean interval in s over whole emptyings of the siphon (a single "
                                      "interval says nothing here)"
                                    : "T = time in s since the tip before";
    const auto scaled = [&](const Uncertain& p) {
        return Uncertain{p.value * mm_per_mL_per_cm2 / area_cm2, p.u * mm_per_mL_per_cm2 / area_cm2, p.dof};
    };
    std::string formula;
    switch (model.chosen) {
        case RateForm::constant:
            formula = "h = " + for_computing(scaled(fit->parameters[0])) + " mm per tip at any T";
            break;
        case RateForm::line:
            formula = "h(T) = " + for_computing(scaled(fit->parameters[0])) + " mm · T / (T − " +
                      for_computing(fit->parameters[1]) + " s)";
            break;
        case RateForm::curve:
            formula = "h(T) = " + fixed(mm_per_mL_per_cm2 / area_cm2, 7) +
                      " mm/mL · Q · T, with Q = (B − √(B² − 4·c·V0)) / (2·c), B = T − τ, V0 = " +
                      for_computing(fit->parameters[0]) + " mL, τ = " + for_computing(fit->parameters[1]) +
                      " s, c = " + for_computing(fit->parameters[2]) + " s²/mL";
            break;
        case RateForm::power:
            formula =
                "h(T) = " + fixed(mm_per_mL_per_cm2 / area_cm2, 7) +
                " mm/mL · Q · T, with Q = (α / T)^(1/(1 − β)), α = " + for_computing(fit->parameters[0]) +
                ", β = " + for_computing(fit->parameters[1]);
            break;
        case RateForm::table:
            formula = "h(T) by straight lines between the rows of the table";
            break;
    }
    return formula + "; " + meaning + range;
}

}  // namespace

Result<Uncertain> depth_mm(const RateModel& model, const std::vector<StepResult>& steps, const Gauge& gauge,
                           double interval_s) {
    if (steps.empty()) return Fault{FaultCode::too_few_points, "no steps", "correction", ""};
    if (!(interval_s > 0)) {
        return Fault{FaultCode::bad_value, "a tip interval must be positive", interval_where(interval_s), ""};
    }
    const auto flow = flow_of_interval(model, interval_s);
    if (!flow) return flow.fault();
    const Uncertain volume = model.volume_at(*flow);
    const Uncertain area = gauge.catch_area_cm2();
    const double depth = mm_per_mL_per_cm2 * volume.value / area.value;
    // At a given interval a larger volume means a larger flow too: dv = df / (1 - f'(Q)/T).
    const double gain = 1 / (1 - model.slope_at(*flow) / interval_s);
    const double by_volume = std::abs(gain) * volume.u / volume.value;
    const double by_area = area.u / area.value;
    const double variance = by_volume * by_volume + by_area * by_area;
    double fourth = 0;
    if (std::isfinite(volume.dof)) fourth += std::pow(by_volume, 4) / volume.dof;
    if (std::isfinite(area.dof)) fourth += std::pow(by_area, 4) / area.dof;
    return Uncertain{depth, depth * std::sqrt(variance), welch_satterthwaite(variance, fourth)};
}

Result<Correction> derive_correction(const RateModel& model, const std::vector<StepResult>& steps,
                                     const Gauge& gauge, double coverage,
                                     const std::vector<CapabilityPoint>& capability) {
    Correction correction;
    const double area_cm2 = gauge.catch_area_cm2().value;
    correction.interval_min_s = model.volume_at(model.flow_max_mL_s).value / model.flow_max_mL_s;
    correction.interval_max_s = model.volume_at(model.flow_min_mL_s).value / model.flow_min_mL_s;
    const double per_hour = 3600 * gauge.nominal_tip_mm;

    std::vector<double> intervals_s = {correction.interval_max_s};
    const auto apart = [&](double interval_s) {
        return std::none_of(intervals_s.begin(), intervals_s.end(), [&](double other) {
            return interval_s < other * 1.01 && interval_s > other / 1.01;
        });
    };
    if (apart(correction.interval_min_s)) intervals_s.push_back(correction.interval_min_s);
    const auto add_row = [&](double interval_s) {
        if (interval_s < correction.interval_max_s && interval_s > correction.interval_min_s &&
            apart(interval_s))
            intervals_s.push_back(interval_s);
    };
    // Straight lines between the rows must meet what was measured. Of several runs at one rate a single one
    // may lie outside.
    if (model.chosen_candidate() == nullptr)
        for (const RatePoint& point : model.points) add_row(point.volume_mL.value / point.flow_mL_s);
    for (const double intensity : round_intensities_mm_h) add_row(per_hour / intensity);
    std::sort(intervals_s.begin(), intervals_s.end(), std::greater<>());

    for (const double interval_s : intervals_s) {
        auto depth = depth_mm(model, steps, gauge, interval_s);
        if (!depth) return depth.fault();
        if (const auto least = least_U_percent(capability, 3600 * depth->value / interval_s))
            *depth = raised(*depth, *least / 100 * depth->value, coverage);
        CorrectionRow row;
        row.interval_s = interval_s;
        row.indicated_intensity_mm_h = per_hour / interval_s;
        row.depth_mm = *depth;
        row.corrected_intensity_mm_h = {3600 * depth->value / interval_s, 3600 * depth->u / interval_s,
                                        depth->dof};
        row.factor = depth->value / gauge.nominal_tip_mm;
        row.factor_U = expanded(*depth, coverage).U / gauge.nominal_tip_mm;
        correction.rows.push_back(row);
    }
    correction.formula =
        formula_of(model, area_cm2, correction.interval_min_s, correction.interval_max_s, gauge);
    const CorrectionRow& example = correction.rows[correction.rows.size() / 2];
    correction.worked_example =
        "T = " + fixed(example.interval_s, 3) + " s (the logger reads " +
        fixed(example.indicated_intensity_mm_h, 1) +
        " mm/h): h = " + number(example.depth_mm.value, example.depth_mm) + " mm instead of " +
        fixed(gauge.nominal_tip_mm, 3) + " mm, so the rate is " +
        number(example.corrected_intensity_mm_h.value, example.corrected_intensity_mm_h) + " mm/h";
    return correction;
}

}  // namespace tipwright::calib
