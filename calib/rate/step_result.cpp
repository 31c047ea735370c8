#include "calib/rate/step_result.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "calib/rate/capability_floor.hpp"
#include "calib/statistics/serial_correlation.hpp"
#include "calib/tips/pooled_scatter.hpp"
#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"
#include "calib/weighing/weighing.hpp"

namespace tipwright::calib {

namespace {

double rectangular_u(double half_width) {
    return half_width / std::sqrt(3.0);
}

// Dissolved air and the formula's own uncertainty: air-saturated water is lighter by up to 0.0047 kg/m3
// (Tanaka et al. 2001), taken as a half-width.
constexpr double water_density_half_width_kg_m3 = 0.005;
// CIPM-2007 itself: 22e-6 relative (Picard et al. 2008).
constexpr double air_formula_relative_u = 22e-6;

// Compartments of a gauge in order differ by no more (common practice, no source).
constexpr double unknown_imbalance_percent = 2;

std::string step_name(const StepObservation& observation) {
    return "step " + std::to_string(observation.step);
}

std::optional<Fault> check_inputs(const StepObservation& observation, const Gauge& gauge) {
    const auto bad = [&](const std::string& what, const std::string& remedy) {
        return Fault{FaultCode::bad_value, what, step_name(observation), remedy};
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

class BudgetBuilder {
public:
    explicit BudgetBuilder(StepResult& result) : budget_(result.budget) {}

    struct Shape {
        Distribution distribution = Distribution::normal;
        double dof = infinite_dof;
        std::string cause = {};
        std::string estimate = {};
        double at = 0;
    };

    // A component without uncertainty is left out: it would be an empty line.
    void add(const std::string& id, const std::string& label, const std::string& unit, double value, double u,
             const Shape& shape, double dlnV, double dlnv = 0, double dlnt = 0, double dlnA = 0) {
        if (u == 0) return;
        budget_.push_back({id, label, unit, value, u, shape.distribution, shape.dof, dlnV, dlnv, dlnt, dlnA,
                           shape.cause, shape.estimate, shape.at});
    }

private:
    std::vector<BudgetComponent>& budget_;
};

double air_density_of(const Conditions& conditions) {
    return air_density_kg_m3(conditions.air_temperature_C, conditions.air_pressure_hPa,
                             conditions.relative_humidity_percent);
}

double air_density_u(const Conditions& conditions, const BenchMetrology& bench, double density) {
    Conditions warmer = conditions;
    warmer.air_temperature_C += bench.air_temperature_u_C;
    Conditions higher = conditions;
    higher.air_pressure_hPa += bench.air_pressure_u_hPa;
    Conditions damper = conditions;
    damper.relative_humidity_percent += bench.relative_humidity_u_percent;
    const double by_temperature = air_density_of(warmer) - density;
    const double by_pressure = air_density_of(higher) - density;
    const double by_humidity = air_density_of(damper) - density;
    const double by_formula = air_formula_relative_u * density;
    return std::sqrt(by_temperature * by_temperature + by_pressure * by_pressure + by_humidity * by_humidity +
                     by_formula * by_formula);
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
    return {value, std::abs(scale) * std::sqrt(variance),
            fourth > 0 ? variance * variance / fourth : infinite_dof};
}

// "balance_drift: B-1204, certificate 77"; what stands alone is that of the only one there is.
std::string cause(const std::string& what, const std::string& which) {
    return which.empty() ? what : what + ": " + which;
}

// Mean error of readings rounded to d of values that scatter by sigma about anything, root of the mean
// square:
//   d/(pi sqrt 2) sqrt(sum over k of exp(-4 pi^2 k^2 sigma^2/d^2)/k^2)
// which is d/sqrt 12 without scatter and nothing from sigma = d/2 on. Fourier series of the saw tooth; Widrow
// and Kollar, Quantization Noise (2008), from memory.
double rounding_of_mean_u(double d, double sd) {
    if (!(d > 0)) return 0;
    // The scatter seen includes the rounding itself.
    const double sigma2 = std::max(sd * sd - d * d / 12, 0.0);
    double sum = 0;
    for (int k = 1; k <= 50; ++k) {
        const double kk = static_cast<double>(k) * k;
        sum += std::exp(-4 * std::numbers::pi * std::numbers::pi * kk * sigma2 / (d * d)) / kk;
    }
    return d / (std::numbers::pi * std::numbers::sqrt2) * std::sqrt(sum);
}

void add_weighing(BudgetBuilder& add, const StepObservation& observation, const BenchMetrology& bench,
                  double weighed_g, const CommonCauses& causes) {
    const auto& balance = bench.balance;
    const double per_gram = 1 / weighed_g;
    const double edges = std::sqrt(2.0);
    const auto n = static_cast<double>(std::max(1, observation.balance_readings_per_edge));
    const std::string in_step = " in " + step_name(observation);
    const bool each_tip = observation.amount_by == AmountBy::each_tip;
    const double weighings = each_tip ? observation.tips : 1;
    const double per_weighing_g = observation.balance_difference_g / weighings;
    if (each_tip) {
        const double sd_g = observation.scatter.sd_percent / 100 * per_weighing_g;
        add.add("balance_resolution", "balance readability, each tip alike", "g", balance.resolution_g,
                weighings * rounding_of_mean_u(balance.resolution_g, sd_g), {Distribution::rectangular},
                per_gram);
        // Else it is part of the scatter of the tips.
        if (!(observation.scatter.dof > 0))
            add.add("balance_repeatability", "balance repeatability, two readings of each tip", "g",
                    balance.repeatability_g, edges * balance.repeatability_g * std::sqrt(weighings),
                    {Distribution::student,
                     balance.repeatability_dof,
                     {},
                     cause("balance_repeatability", causes.balance)},
                    per_gram);
    } else {
        add.add("balance_resolution", "balance readability, two readings", "g", balance.resolution_g,
                edges * balance.resolution_g / std::sqrt(12.0), {Distribution::triangular}, per_gram);
        add.add("balance_repeatability", "balance repeatability, two readings", "g", balance.repeatability_g,
                edges * balance.repeatability_g / std::sqrt(n),
                {Distribution::student,
                 balance.repeatability_dof,
                 {},
                 cause("balance_repeatability", causes.balance)},
                per_gram);
    }
    // Where on the scale a bench's vessel stood is not told: every step has its own part of it. Supplied
    // weighings are taken to begin at the same load.
    const bool supplied = observation.weighing == WeighingMethod::supplied;
    add.add("balance_linearity",
            each_tip ? "balance linearity, once for every tip" : "balance linearity over the span used", "g",
            weighings * balance.linearity_half_width_g,
            weighings * rectangular_u(balance.linearity_half_width_g),
            {Distribution::rectangular,
             infinite_dof,
             supplied ? cause("balance_linearity", causes.balance)
                      : cause("balance_linearity", causes.run) + in_step,
             {},
             supplied ? per_weighing_g : 0},
            per_gram);
    add.add("balance_calibration", "balance sensitivity, from its calibration", "1", 1,
            balance.calibration_relative_u,
            {Distribution::normal, infinite_dof, cause("balance_calibration", causes.balance)}, 1);
    add.add("balance_drift", "balance sensitivity drift since calibration", "1", 0,
            rectangular_u(balance.drift_relative_half_width),
            {Distribution::rectangular, infinite_dof, cause("balance_drift", causes.run)}, 1);
    add.add("weighing_scatter", "scatter of the readings at the edges", "g", 0,
            observation.weighing_scatter_u_g, {Distribution::normal}, per_gram);
    add.add("residual_water", "water clinging between gauge and vessel", "g", 0, edges * bench.residual_u_g,
            {Distribution::normal}, per_gram);
}

// One estimate for several steps is one estimate: its degrees of freedom are those of all of them together.
std::string of_several_steps(const TipScatter& scatter, const std::string& run) {
    const bool pooled = scatter.from.find("pooled over") != std::string::npos;
    return pooled ? cause("tip_scatter", run) + ", " + scatter.from : "";
}

// The standard deviation the mean of the tips rests on. Weighed in a chain, the noise of the readings is in
// every tip but cancels in their sum, and what the balance is known for is taken out of it, as long as enough
// is left to be known by.
TipScatter scatter_of_tips(const TipScatter& seen, const StepObservation& observation,
                           const BenchMetrology& bench) {
    constexpr double fewest_dof = 5;
    if (observation.amount_by != AmountBy::chained || observation.is_volume || !(seen.dof > 0)) return seen;
    const auto& balance = bench.balance;
    const double tip_g = observation.balance_difference_g / observation.tips;
    const double reading_variance =
        balance.repeatability_g * balance.repeatability_g + balance.resolution_g * balance.resolution_g / 12;
    const double by_readings = 2 * reading_variance * 1e4 / (tip_g * tip_g);
    const double total = seen.sd_percent * seen.sd_percent;
    const double left = total - by_readings;
    // Satterthwaite for the difference of a variance seen and one known.
    const double dof = left > 0 ? seen.dof * left * left / (total * total) : 0;
    if (!(dof >= fewest_dof)) return seen;
    TipScatter result = seen;
    result.sd_percent = std::sqrt(left);
    result.dof = dof;
    return result;
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
    const double rho_a = air_density_of(conditions);
    result.water_density_kg_m3 = rho_w;
    result.air_density_kg_m3 = rho_a;
    const double hours = observation.duration_s.value_or(0) / 3600;

    BudgetBuilder budget(result);
    double volume_mL = observation.balance_difference_g;
    if (observation.is_volume) {
        result.mass_g = volume_mL * rho_w / 1000;
        // Of a measure the balance's linearity is the measure's own error, its repeatability what a reading
        // adds.
        const double fillings = observation.amount_by == AmountBy::each_tip ? observation.tips : 1;
        budget.add("volume_measure",
                   fillings > 1 ? "graduated measure, once for every tip" : "graduated measure, as stated",
                   "mL", volume_mL, fillings * rectangular_u(bench.balance.linearity_half_width_g),
                   {Distribution::normal, infinite_dof, cause("volume_measure", causes.measure)},
                   1 / volume_mL);
        // Else it is part of the scatter of the tips.
        if (!(fillings > 1 && observation.scatter.dof > 0))
            budget.add("volume_reading", "reading of the measure", "mL", volume_mL,
                       std::sqrt(fillings) * bench.balance.repeatability_g,
                       {Distribution::normal, bench.balance.repeatability_dof}, 1 / volume_mL);
    } else {
        result.evaporated_g = bench.evaporation_g_h.value * hours;
        const double weighed_g = observation.balance_difference_g + result.evaporated_g;
        if (!(weighed_g > 0)) {
            return Fault{FaultCode::bad_value, "more water evaporated than was weighed",
                         step_name(observation), "check the evaporation rate of the bench description"};
        }
        result.mass_g = weighed_g * buoyancy_factor(rho_a, rho_w);
        volume_mL = result.mass_g / rho_w * 1000;

        add_weighing(budget, observation, bench, weighed_g, causes);
        budget.add("balance_zero_drift", "balance zero drift over the collect", "g/h", 0,
                   rectangular_u(bench.balance.zero_drift_half_width_g_h),
                   {Distribution::rectangular, infinite_dof, cause("balance_zero_drift", causes.run)},
                   hours / weighed_g);
        budget.add("evaporation", "evaporation from the vessel", "g/h", bench.evaporation_g_h.value,
                   bench.evaporation_g_h.u,
                   {Distribution::normal, bench.evaporation_g_h.dof, cause("evaporation", causes.run)},
                   hours / weighed_g);
        budget.add("water_temperature", "water temperature, through its density", "°C",
                   conditions.water_temperature_C, bench.water_temperature_u_C,
                   {Distribution::normal, infinite_dof, cause("water_temperature", causes.run)},
                   -water_density_relative_slope(conditions.water_temperature_C));
        budget.add("water_density", "dissolved air and density formula", "kg/m³", rho_w,
                   rectangular_u(water_density_half_width_kg_m3),
                   {Distribution::rectangular, infinite_dof, cause("water_density", causes.run)}, -1 / rho_w);
        budget.add("water_purity", "what is dissolved in the water, through its density", "kg/m³", 0,
                   rectangular_u(bench.water_allowance_kg_m3),
                   {Distribution::rectangular, infinite_dof, cause("water_purity", causes.run)}, -1 / rho_w);
        // d ln(1 - rho_a/rho_w)^-1 / d rho_a, JCGM 101 clause 9.3's model.
        budget.add("air_density", "air density, through buoyancy", "kg/m³", rho_a,
                   air_density_u(conditions, bench, rho_a),
                   {Distribution::normal, infinite_dof, cause("air_density", causes.run)},
                   1 / (rho_w - rho_a));
    }
    if (observation.duration_s) {
        budget.add("time_base", "time base of the tip counter", "1", 1, bench.clock_relative_u,
                   {Distribution::normal, infinite_dof, cause("time_base", causes.clock)}, 0, 0, 1);
        budget.add("contact_edges", "contact closure against tip, two edges", "s", 0,
                   std::sqrt(2.0) * bench.edge_time_u_s, {Distribution::normal}, 0, 0,
                   1 / *observation.duration_s);
        if (gauge.inlet == Inlet::siphon) {
            // At a tip the chamber still holds anything up to one tip: rectangular at each edge.
            budget.add("siphon_storage", "water held in the siphon at the edges", "tip", 0,
                       1 / std::sqrt(6.0), {Distribution::triangular}, 0, 0, 1.0 / observation.tips);
        }
    }
    const TipScatter scatter = scatter_of_tips(
        given_scatter ? *given_scatter : pooled_scatter({observation}, 0, gauge), observation, bench);
    const bool is_pooled = scatter.from != observation.scatter.from;
    if (scatter.dof > 0) {
        const bool is_siphons = is_pooled && siphon_tail_sd_percent(gauge) > 0;
        budget.add(is_siphons  ? "tip_scatter_siphon"
                   : is_pooled ? "tip_scatter_pooled"
                               : "tip_scatter",
                   is_siphons  ? "scatter of the siphon's tips, as seen and as stated"
                   : is_pooled ? "scatter of single tips, pooled over the steps"
                               : "scatter of single tips, mean of all",
                   "%", 0,
                   widening_by_dependence(scatter.neighbours, scatter.neighbours_of) * scatter.sd_percent /
                       std::sqrt(static_cast<double>(observation.tips)),
                   {Distribution::student, scatter.dof, {}, of_several_steps(scatter, causes.run)}, 0, 0.01);
    }
    if (gauge.compartments == 2 && observation.tips % 2 != 0) {
        budget.add("odd_tip", "one tip of one compartment more than of the other", "%", 0,
                   rectangular_u(unknown_imbalance_percent),
                   {Distribution::rectangular, infinite_dof,
                    cause("odd_tip", causes.run) + " in " + step_name(observation)},
                   0, 0.01 / observation.tips);
    }
    const Uncertain area = gauge.catch_area_cm2();
    budget.add("catch_area", "catch area, from its diameter", "cm²", area.value, area.u,
               {Distribution::normal, area.dof, cause("catch_area", causes.rim)}, 0, 0, 0, 1 / area.value);

    const double per_tip_mL = volume_mL / observation.tips;
    const double ratio = gauge.nominal_tip_mL() / per_tip_mL;  // 1 + e
    StepValues values{volume_mL, per_tip_mL, 100 * (ratio - 1), {}, {}};
    if (observation.duration_s) {
        const double minutes = *observation.duration_s / 60;
        values.flow_mL_min = volume_mL / minutes;
        values.reference_intensity_mm_h = intensity_mm_h(*values.flow_mL_min, area.value);
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
                         step_name(result.observation), ""};
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
