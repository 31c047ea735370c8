#include "calib/rate/step_result.hpp"

#include <cmath>

#include "calib/rate/capability_floor.hpp"
#include "calib/rate/step_budget.hpp"
#include "calib/statistics/budget.hpp"
#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"
#include "calib/weighing/weighing.hpp"

namespace tipwright::calib {

namespace {

std::optional<Fault> check_inputs(const StepObservation& observation, const Gauge& gauge) {
    const auto bad = [&](const std::string& what, const std::string& remedy) {
        return Fault{FaultCode::bad_value, what, observation.name(), remedy};
    };
    const auto within = [](double value, double low, double high) { return value >= low && value <= high; };
    if (!(observation.tips >= 1))
        return bad(std::to_string(observation.tips) + " tips", "a step needs at least one tip");
    if (!(observation.balance_difference_g > 0) || !std::isfinite(observation.balance_difference_g)) {
        return bad("mass of water " + std::to_string(observation.balance_difference_g) + " g is not positive",
                   "check that the balance weighs what the gauge discharges");
    }
    if (observation.duration_s && !(within(*observation.duration_s, 1e-3, 1e8))) {
        return bad("duration " + std::to_string(*observation.duration_s) + " s is impossible",
                   "give the time from the opening to the closing tip in seconds");
    }
    if (!within(observation.conditions.water_temperature_C, 0, 50)) {
        return bad("water temperature " + std::to_string(observation.conditions.water_temperature_C) +
                       " °C lies outside 0 to 50",
                   "give degrees Celsius");
    }
    if (!within(observation.conditions.air_temperature_C, 0, 50)) {
        return bad("air temperature " + std::to_string(observation.conditions.air_temperature_C) +
                       " °C lies outside 0 to 50",
                   "give degrees Celsius");
    }
    if (!within(observation.conditions.air_pressure_hPa, 500, 1100)) {
        return bad("air pressure " + std::to_string(observation.conditions.air_pressure_hPa) +
                       " hPa lies outside 500 to 1100",
                   "give the pressure at the bench, not reduced to sea level, in hPa");
    }
    if (!within(observation.conditions.relative_humidity_percent, 0, 100)) {
        return bad("relative humidity " + std::to_string(observation.conditions.relative_humidity_percent) +
                       " % lies outside 0 to 100",
                   "give per cent");
    }
    if (!within(gauge.catch_diameter_mm.value, 20, 1000)) {
        return Fault{
            FaultCode::bad_value,
            "catch diameter " + std::to_string(gauge.catch_diameter_mm.value) + " mm lies outside 20 to 1000",
            "gauge", "give millimetres"};
    }
    if (!within(gauge.nominal_tip_mm, 0.001, 100)) {
        return Fault{FaultCode::bad_value,
                     "nominal tip " + std::to_string(gauge.nominal_tip_mm) + " mm lies outside 0.001 to 100",
                     "gauge", "give millimetres of rain per tip"};
    }
    return std::nullopt;
}

// One relative standard uncertainty with Welch-Satterthwaite degrees of freedom, JCGM 100 G.4.1.
template <class Sensitivity>
Uncertain combine(double value, const std::vector<BudgetComponent>& budget, Sensitivity sensitivity,
                  double scale) {
    double variance = 0;
    double fourth = 0;
    for (const auto& component : budget) {
        const double contribution = sensitivity(component) * component.u;
        variance += contribution * contribution;
        if (std::isfinite(component.dof)) fourth += std::pow(contribution, 4) / component.dof;
    }
    return {value, std::abs(scale) * std::sqrt(variance), welch_satterthwaite(variance, fourth)};
}

}  // namespace

Result<StepResult> evaluate_step(const StepObservation& observation, const Gauge& gauge,
                                 const BenchMetrology& bench, double coverage,
                                 const std::optional<TipScatter>& given_scatter, const CommonCauses& causes) {
    if (auto fault = check_inputs(observation, gauge)) return *fault;

    StepResult result;
    result.observation = observation;
    const Conditions& conditions = observation.conditions;
    const double rho_w = water_density_kg_m3(conditions.water_temperature_C);
    const double rho_a = air_density_kg_m3(conditions.air_temperature_C, conditions.air_pressure_hPa,
                                           conditions.relative_humidity_percent);
    result.water_density_kg_m3 = rho_w;
    result.air_density_kg_m3 = rho_a;

    WaterOfStep water{rho_w, rho_a, 0, observation.balance_difference_g};
    if (observation.is_volume) {
        result.mass_g = water.volume_mL * rho_w / 1000;
    } else {
        const double hours = observation.duration_s.value_or(0) / 3600;
        result.evaporated_g = bench.evaporation_g_h.value * hours;
        water.weighed_g = observation.balance_difference_g + result.evaporated_g;
        if (!(water.weighed_g > 0)) {
            return Fault{FaultCode::bad_value, "more water evaporated than was weighed", observation.name(),
                         "check the evaporation rate of the bench description"};
        }
        result.mass_g = water.weighed_g * buoyancy_factor(rho_a, rho_w);
        water.volume_mL = result.mass_g / rho_w * 1000;
    }
    result.budget = step_budget(observation, gauge, bench, water, given_scatter, causes);

    const double volume_mL = water.volume_mL;
    const double area_cm2 = gauge.catch_area_cm2().value;
    const double per_tip_mL = volume_mL / observation.tips;
    const double ratio = gauge.nominal_tip_mL() / per_tip_mL;  // 1 + e
    StepValues values{volume_mL, per_tip_mL, 100 * (ratio - 1), {}, {}};
    if (observation.duration_s) {
        const double minutes = *observation.duration_s / 60;
        values.flow_mL_min = volume_mL / minutes;
        values.reference_intensity_mm_h = intensity_mm_h(*values.flow_mL_min, area_cm2);
        result.indicated_intensity_mm_h =
            observation.tips * gauge.nominal_tip_mm / (*observation.duration_s / 3600);
        result.mean_interval_s = *observation.duration_s / observation.tips;
    }
    if (auto completed = complete_from_budget(result, values, coverage); !completed) return completed.fault();
    if (auto raised = raise_to_capability(result, bench.capability, coverage, causes.run); !raised)
        return raised.fault();
    return result;
}

Outcome complete_from_budget(StepResult& result, const StepValues& values, double coverage) {
    const auto& components = result.budget;
    for (const auto& component : components) {
        if (!std::isfinite(component.u)) {
            return Fault{FaultCode::not_finite, "the uncertainty of " + component.label + " is not finite",
                         result.observation.name(), ""};
        }
    }
    const double per_tip_mL = values.volume_per_tip_mL;
    result.volume_mL = combine(
        values.volume_mL, components, [](const auto& c) { return c.dlnV; }, values.volume_mL);
    result.volume_per_tip_mL = combine(
        per_tip_mL, components, [](const auto& c) { return c.relative_to_v(); }, per_tip_mL);
    result.error_percent = combine(
        values.error_percent, components, [](const auto& c) { return c.relative_to_e(); },
        100 + values.error_percent);
    if (values.flow_mL_min) {
        result.flow_mL_min = combine(
            *values.flow_mL_min, components, [](const auto& c) { return c.relative_to_Q(); },
            *values.flow_mL_min);
    }
    if (values.reference_intensity_mm_h) {
        result.reference_intensity_mm_h = combine(
            *values.reference_intensity_mm_h, components, [](const auto& c) { return c.relative_to_I_ref(); },
            *values.reference_intensity_mm_h);
    }
    if (result.observation.compartments) {
        const auto& balance = *result.observation.compartments;
        const double excess = balance.a_excess_percent / 100;
        const double u = std::hypot(result.volume_per_tip_mL.u, per_tip_mL * balance.u_percent / 100);
        result.compartment_a_mL = Uncertain{per_tip_mL * (1 + excess), u, balance.dof};
        result.compartment_b_mL = Uncertain{per_tip_mL * (1 - excess), u, balance.dof};
    }
    result.error_expanded = expanded(result.error_percent, coverage);
    return Done{};
}

Contributions error_contributions(const StepResult& step, const std::string& own, double scale) {
    Contributions parts;
    for (const BudgetComponent& component : step.budget) {
        const double size = scale * component.relative_to_e() * component.u;
        if (size == 0) continue;
        parts.push_back({component.cause.empty() ? own + ": " + component.id : component.cause,
                         component.estimate, size, component.dof, component.at});
    }
    return parts;
}

}  // namespace tipwright::calib
