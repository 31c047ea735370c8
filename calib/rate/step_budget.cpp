#include "calib/rate/step_budget.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "calib/rate/capability_floor.hpp"
#include "calib/statistics/serial_correlation.hpp"
#include "calib/tips/pooled_scatter.hpp"
#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"

namespace tipwright::calib {

namespace {

// Every component there is, by the name it has for good: an id that does not stand here does not compile, and
// one that stands here needs its word in each language (tests/report/certificate/words_test.cpp).
constexpr std::string_view component_ids[] = {
    "balance_resolution", "balance_repeatability",
    "balance_linearity",  "balance_calibration",
    "balance_drift",      "weighing_scatter",
    "residual_water",     "balance_zero_drift",
    "evaporation",        "water_temperature",
    "water_density",      "water_purity",
    "air_density",        "volume_measure",
    "volume_reading",     "time_base",
    "contact_edges",      "siphon_storage",
    "tip_scatter",        "tip_scatter_pooled",
    "tip_scatter_siphon", "odd_tip",
    "catch_area",         run_scatter_id,
    capability_id,
};

struct ComponentId {
    // Made by the compiler alone, from a literal of the list above.
    consteval ComponentId(const char* id) : name(id) {
        if (std::find(std::begin(component_ids), std::end(component_ids), name) == std::end(component_ids))
            throw "a component that component_ids does not list";
    }
    std::string_view name;
};

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

class BudgetBuilder {
public:
    explicit BudgetBuilder(std::vector<BudgetComponent>& budget) : budget_(budget) {}

    struct Shape {
        Distribution distribution = Distribution::normal;
        double dof = infinite_dof;
        std::string cause = {};
        std::string estimate = {};
        double at = 0;
    };

    // A component without uncertainty is left out: it would be an empty line.
    void add(ComponentId id, const std::string& label, const std::string& unit, double value, double u,
             const Shape& shape, double dlnV, double dlnv = 0, double dlnt = 0, double dlnA = 0) {
        if (u == 0) return;
        budget_.push_back({std::string(id.name), label, unit, value, u, shape.distribution, shape.dof, dlnV,
                           dlnv, dlnt, dlnA, shape.cause, shape.estimate, shape.at});
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
    const std::string in_step = " in " + observation.name();
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

// Of a measure the balance's linearity is the measure's own error, its repeatability what a reading adds.
void add_measure(BudgetBuilder& budget, const StepObservation& observation, const BenchMetrology& bench,
                 double volume_mL, const CommonCauses& causes) {
    const double fillings = observation.amount_by == AmountBy::each_tip ? observation.tips : 1;
    budget.add("volume_measure",
               fillings > 1 ? "graduated measure, once for every tip" : "graduated measure, as stated", "mL",
               volume_mL, fillings * rectangular_u(bench.balance.linearity_half_width_g),
               {Distribution::normal, infinite_dof, cause("volume_measure", causes.measure)}, 1 / volume_mL);
    // Else it is part of the scatter of the tips.
    if (!(fillings > 1 && observation.scatter.dof > 0))
        budget.add("volume_reading", "reading of the measure", "mL", volume_mL,
                   std::sqrt(fillings) * bench.balance.repeatability_g,
                   {Distribution::normal, bench.balance.repeatability_dof}, 1 / volume_mL);
}

// What turns the weighed mass into volume: time, densities, air.
void add_conversion(BudgetBuilder& budget, const StepObservation& observation, const BenchMetrology& bench,
                    const WaterOfStep& water, const CommonCauses& causes) {
    const Conditions& conditions = observation.conditions;
    const double hours = observation.duration_s.value_or(0) / 3600;
    const double rho_w = water.density_kg_m3;
    const double rho_a = water.air_density_kg_m3;
    budget.add("balance_zero_drift", "balance zero drift over the collect", "g/h", 0,
               rectangular_u(bench.balance.zero_drift_half_width_g_h),
               {Distribution::rectangular, infinite_dof, cause("balance_zero_drift", causes.run)},
               hours / water.weighed_g);
    budget.add("evaporation", "evaporation from the vessel", "g/h", bench.evaporation_g_h.value,
               bench.evaporation_g_h.u,
               {Distribution::normal, bench.evaporation_g_h.dof, cause("evaporation", causes.run)},
               hours / water.weighed_g);
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
               {Distribution::normal, infinite_dof, cause("air_density", causes.run)}, 1 / (rho_w - rho_a));
}

void add_time(BudgetBuilder& budget, const StepObservation& observation, const Gauge& gauge,
              const BenchMetrology& bench, const CommonCauses& causes) {
    budget.add("time_base", "time base of the tip counter", "1", 1, bench.clock_relative_u,
               {Distribution::normal, infinite_dof, cause("time_base", causes.clock)}, 0, 0, 1);
    budget.add("contact_edges", "contact closure against tip, two edges", "s", 0,
               std::sqrt(2.0) * bench.edge_time_u_s, {Distribution::normal}, 0, 0,
               1 / *observation.duration_s);
    if (gauge.inlet == Inlet::siphon) {
        // At a tip the chamber still holds anything up to one tip: rectangular at each edge.
        budget.add("siphon_storage", "water held in the siphon at the edges", "tip", 0, 1 / std::sqrt(6.0),
                   {Distribution::triangular}, 0, 0, 1.0 / observation.tips);
    }
}

void add_tips(BudgetBuilder& budget, const StepObservation& observation, const Gauge& gauge,
              const BenchMetrology& bench, const std::optional<TipScatter>& given_scatter,
              const CommonCauses& causes) {
    const TipScatter scatter = scatter_of_tips(
        given_scatter ? *given_scatter : pooled_scatter({observation}, 0, gauge), observation, bench);
    const bool is_pooled = scatter.from != observation.scatter.from;
    if (scatter.dof > 0) {
        const bool is_siphons = is_pooled && siphon_tail_sd_percent(gauge) > 0;
        budget.add(is_siphons  ? ComponentId("tip_scatter_siphon")
                   : is_pooled ? ComponentId("tip_scatter_pooled")
                               : ComponentId("tip_scatter"),
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
                    cause("odd_tip", causes.run) + " in " + observation.name()},
                   0, 0.01 / observation.tips);
    }
}

}  // namespace

std::span<const std::string_view> budget_component_ids() {
    return component_ids;
}

std::vector<BudgetComponent> step_budget(const StepObservation& observation, const Gauge& gauge,
                                         const BenchMetrology& bench, const WaterOfStep& water,
                                         const std::optional<TipScatter>& given_scatter,
                                         const CommonCauses& causes) {
    std::vector<BudgetComponent> components;
    BudgetBuilder budget(components);
    if (observation.is_volume) {
        add_measure(budget, observation, bench, water.volume_mL, causes);
    } else {
        add_weighing(budget, observation, bench, water.weighed_g, causes);
        add_conversion(budget, observation, bench, water, causes);
    }
    if (observation.duration_s) add_time(budget, observation, gauge, bench, causes);
    add_tips(budget, observation, gauge, bench, given_scatter, causes);
    const Uncertain area = gauge.catch_area_cm2();
    budget.add("catch_area", "catch area, from its diameter", "cm²", area.value, area.u,
               {Distribution::normal, area.dof, cause("catch_area", causes.rim)}, 0, 0, 0, 1 / area.value);
    return components;
}

}  // namespace tipwright::calib
