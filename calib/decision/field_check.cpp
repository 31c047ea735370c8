#include "calib/decision/field_check.hpp"

#include <cmath>

#include "calib/base/rounding.hpp"
#include "calib/decision/comparison.hpp"
#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"
#include "calib/weighing/weighing.hpp"

namespace tipwright::calib {

namespace {

constexpr int most_tips = 10'000'000;

// Tips' worth of water to add to the count, with its standard uncertainty.
Uncertain edge_tips(FillLevel begin, FillLevel end) {
    const double one = 1 / std::sqrt(12.0);
    const bool begin_unknown = begin == FillLevel::unknown;
    const bool end_unknown = end == FillLevel::unknown;
    const double value = (end_unknown ? 0.5 : 0) - (begin_unknown ? 0.5 : 0);
    return {value, std::hypot(begin_unknown ? one : 0, end_unknown ? one : 0)};
}

Outcome check_gauge(const Gauge& gauge) {
    if (!(gauge.nominal_tip_mm > 0 && gauge.nominal_tip_mm <= 100)) {
        return Fault{FaultCode::bad_value, "nominal tip of " + fixed(gauge.nominal_tip_mm, 3) + " mm",
                     "gauge", "give millimetres of rain per tip"};
    }
    if (!(gauge.catch_diameter_mm.value >= 20 && gauge.catch_diameter_mm.value <= 1000)) {
        return Fault{
            FaultCode::bad_value,
            "catch diameter " + fixed(gauge.catch_diameter_mm.value, 1) + " mm lies outside 20 to 1000",
            "gauge", "give millimetres"};
    }
    return Done{};
}

Outcome check_tips(int tips, const std::string& where) {
    if (tips >= 1 && tips <= most_tips) return Done{};
    return Fault{FaultCode::bad_value, std::to_string(tips) + " tips", where,
                 "at least one tip must have been counted"};
}

// The budget of e in relative parts; `volume` lists what the volume is made of, with sensitivities of ln V.
struct VolumePart {
    BudgetInput input;
    double dlnV = 0;
};

Result<FieldCheck> conclude(double volume_mL, const std::vector<VolumePart>& parts, int tips,
                            const Uncertain& edges, double indicated_per_tip_mm,
                            std::optional<double> scatter_percent, const Gauge& gauge,
                            const std::optional<FieldLimits>& limits,
                            const std::optional<Uncertain>& certified, double coverage,
                            const std::string& where) {
    if (!(volume_mL > 0) || !std::isfinite(volume_mL)) {
        return Fault{FaultCode::bad_value,
                     "no water is left: " + fixed(volume_mL, 3) + " mL passed the compartments", where,
                     "check volume, retained water and losses"};
    }
    const double count = tips + edges.value;
    if (!(count > 0)) {
        return Fault{FaultCode::bad_value, "one tip with unknown beginning says nothing", where,
                     "pour more water"};
    }
    if (scatter_percent && !(*scatter_percent >= 0 && *scatter_percent <= 100)) {
        return Fault{FaultCode::bad_value, "scatter of a tip is not 0 to 100 %", where, {}};
    }
    const Uncertain area = gauge.catch_area_cm2();
    FieldCheck result;
    result.depth_true_mm = 10 * volume_mL / area.value;
    result.depth_indicated_mm = indicated_per_tip_mm * tips;
    const double ratio = indicated_per_tip_mm * count / result.depth_true_mm;  // 1 + e

    std::vector<double> sensitivities;
    double volume_variance = 0;
    for (const VolumePart& part : parts) {
        result.inputs.push_back(part.input);
        sensitivities.push_back(-100 * ratio * part.dlnV);
        volume_variance += std::pow(part.dlnV * part.input.quantity.u, 2);
    }
    result.inputs.push_back({"water left in the compartments", edges});
    sensitivities.push_back(100 * ratio / count);
    const double scatter =
        scatter_percent ? *scatter_percent / 100 / std::sqrt(static_cast<double>(tips)) : 0;
    result.inputs.push_back({"scatter of the tips", {0, scatter}});
    sensitivities.push_back(100 * ratio);
    result.inputs.push_back({"catch area", area});
    sensitivities.push_back(100 * ratio / area.value);

    const auto propagated = propagate(result.inputs, 100 * (ratio - 1), sensitivities);
    if (!propagated) {
        Fault fault = propagated.fault();
        fault.where = where + ", " + fault.where;
        return fault;
    }
    result.contributions_percent = propagated->contributions;
    result.error_percent = propagated->result;
    result.error_expanded = expanded(result.error_percent, coverage);
    result.volume_mL = {volume_mL, volume_mL * std::sqrt(volume_variance)};
    result.hardly_credible = !(std::fabs(result.error_percent.value) <= credible_error_percent);
    result.tips_that_fit = tips + count * (1 / ratio - 1);
    const double per_tip = volume_mL / count;
    result.volume_per_tip_mL = {
        per_tip, per_tip * std::sqrt(volume_variance + std::pow(edges.u / count, 2) + scatter * scatter)};
    // The error rests on another count than the one that was read: whoever works it out again must know.
    if (edges.value != 0)
        result.remarks.push_back({edges.value > 0 ? FieldNote::part_tip_added : FieldNote::part_tip_taken_off,
                                  std::fabs(edges.value), 0});
    if (limits) {
        if (!(limits->low_percent < limits->high_percent)) {
            return Fault{FaultCode::bad_value, "the limits are the wrong way round", where, {}};
        }
        result.conformity = judge_error(result.error_percent, result.error_expanded.U, limits->low_percent,
                                        limits->high_percent, limits->rule, limits->required_probability);
        const double width = (limits->high_percent - limits->low_percent) / 2;
        if (result.error_expanded.U > width) {
            result.remarks.push_back({FieldNote::too_coarse, result.error_expanded.U, width});
        }
    }
    if (certified) {
        result.en = en_number(result.error_percent, *certified, coverage);
        if (!(std::fabs(*result.en) <= 1)) {
            result.remarks.push_back({FieldNote::moved_since_certificate, *result.en, 0});
        }
    }
    return result;
}

}  // namespace

std::string remark_text(const FieldRemark& remark) {
    switch (remark.note) {
        case FieldNote::too_coarse:
            return "the check is too coarse for its limits: U is " + fixed(remark.first, 1) + " % against " +
                   fixed(remark.second, 1) +
                   " %; more water, or beginning and end at a tip, would sharpen it";
        case FieldNote::moved_since_certificate:
            return "the gauge no longer reads as its last certificate says (En " + fixed(remark.first, 1) +
                   "): clean it, level it and check again; then have it calibrated";
        case FieldNote::poured_too_fast:
            return "poured faster than the gauge is made for (" + fixed(remark.first, 0) +
                   " mm/h): pour more slowly";
        case FieldNote::much_lost:
            return "more than a tenth of the water was lost before the weighing: cover the vessel, weigh "
                   "sooner";
        case FieldNote::part_tip_added:
            return "the count did not end on a tip: " + fixed(remark.first, 1) +
                   " tips were added for the water left in the compartment, and its uncertainty";
        case FieldNote::part_tip_taken_off:
            return "the count did not begin on a tip: " + fixed(remark.first, 1) +
                   " tips were taken off for the water that was in the compartment, and its uncertainty";
    }
    return {};
}

Result<FieldCheck> evaluate_pour(const PourCheck& check, const Gauge& gauge,
                                 const std::optional<FieldLimits>& limits,
                                 const std::optional<Uncertain>& certified_error_percent, double coverage) {
    const std::string where = "pour check";
    if (Outcome checked = check_gauge(gauge); !checked) return checked.fault();
    if (Outcome checked = check_tips(check.tips, where); !checked) return checked.fault();
    if (check.duration_s && !(*check.duration_s > 0)) {
        return Fault{FaultCode::bad_value,
                     "duration " + fixed(*check.duration_s, 1) + " s is not above zero",
                     where,
                     {}};
    }
    const double volume = check.poured_mL.value - check.retained_mL.value;
    auto result =
        conclude(volume,
                 {{{"volume poured", check.poured_mL}, 1 / volume},
                  {{"water retained by funnel and filter", check.retained_mL}, -1 / volume}},
                 check.tips, edge_tips(check.begin, check.end), gauge.nominal_tip_mm,
                 check.tip_scatter_percent, gauge, limits, certified_error_percent, coverage, where);
    if (result && check.duration_s) {
        result->intensity_mm_h =
            intensity_mm_h(60 * volume / *check.duration_s, gauge.catch_area_cm2().value);
        if (gauge.max_intensity_mm_h > 0 && *result->intensity_mm_h > gauge.max_intensity_mm_h) {
            result->remarks.push_back({FieldNote::poured_too_fast, *result->intensity_mm_h, 0});
        }
    }
    return result;
}

Result<FieldCheck> evaluate_discharge(const DischargeCheck& check, const Gauge& gauge,
                                      const std::optional<FieldLimits>& limits,
                                      const std::optional<Uncertain>& certified_error_percent,
                                      double coverage) {
    const std::string where = "discharge check";
    if (Outcome checked = check_gauge(gauge); !checked) return checked.fault();
    if (Outcome checked = check_tips(check.logged_tips, where); !checked) return checked.fault();
    const Conditions& at = check.conditions;
    if (!(at.water_temperature_C >= 0 && at.water_temperature_C <= 50) ||
        !(at.air_temperature_C >= -20 && at.air_temperature_C <= 50) ||
        !(at.air_pressure_hPa >= 500 && at.air_pressure_hPa <= 1100) ||
        !(at.relative_humidity_percent >= 0 && at.relative_humidity_percent <= 100)) {
        return Fault{FaultCode::bad_value, "the conditions at the weighing are impossible", where,
                     "give degrees Celsius, hPa and per cent"};
    }
    double per_tip_mm = gauge.nominal_tip_mm;
    if (check.logged_depth_mm) {
        if (!(*check.logged_depth_mm > 0)) {
            return Fault{FaultCode::bad_value,
                         "logged depth " + fixed(*check.logged_depth_mm, 2) + " mm is not above zero",
                         where,
                         {}};
        }
        per_tip_mm = *check.logged_depth_mm / check.logged_tips;
    }
    const double rho_w = water_density_kg_m3(at.water_temperature_C);
    const double rho_a =
        air_density_kg_m3(at.air_temperature_C, at.air_pressure_hPa, at.relative_humidity_percent);
    const double mass = check.weighed_g.value + check.lost_g.value;
    const double volume = 1000 * mass * buoyancy_factor(rho_a, rho_w) / rho_w;
    // Rain water and a field balance: its temperature is known to 2 degC at best, which is 0.04 %.
    const BudgetInput temperature{"water temperature", {at.water_temperature_C, 2}};
    auto result =
        conclude(volume,
                 {{{"mass weighed", check.weighed_g}, 1 / mass},
                  {{"water lost before the weighing", check.lost_g}, 1 / mass},
                  {temperature, -water_density_relative_slope(at.water_temperature_C)}},
                 check.logged_tips, edge_tips(check.begin, check.end), per_tip_mm, check.tip_scatter_percent,
                 gauge, limits, certified_error_percent, coverage, where);
    if (result && check.lost_g.value > 0.1 * check.weighed_g.value) {
        result->remarks.push_back({FieldNote::much_lost, 0, 0});
    }
    return result;
}

}  // namespace tipwright::calib
