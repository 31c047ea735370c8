#include "calib/rate/step_monte_carlo.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "calib/base/wide.hpp"
#include "calib/weighing/water.hpp"

namespace tipwright::calib {

namespace {

using Block = std::array<double, random_block>;

TIPWRIGHT_WIDE void add_scaled(double* __restrict sum, const double* __restrict x, std::size_t count,
                               double factor) {
    for (std::size_t t = 0; t < count; ++t) sum[t] += factor * x[t];
}

TIPWRIGHT_WIDE void times_one_plus(double* __restrict product, const double* __restrict x, std::size_t count,
                                   double factor) {
    for (std::size_t t = 0; t < count; ++t) product[t] *= 1 + factor * x[t];
}

TIPWRIGHT_WIDE void times(double* __restrict product, const double* __restrict x, std::size_t count) {
    for (std::size_t t = 0; t < count; ++t) product[t] *= x[t];
}

TIPWRIGHT_WIDE void finish(const double* __restrict mass, const double* __restrict volume,
                           const double* __restrict per_tip, const double* __restrict area, std::size_t count,
                           double volume_per_tip_mL, double ratio, double* __restrict error_percent,
                           double* __restrict per_tip_mL) {
    for (std::size_t t = 0; t < count; ++t) {
        const double v = mass[t] * volume[t] * per_tip[t];
        per_tip_mL[t] = volume_per_tip_mL * v;
        error_percent[t] = 100 * (ratio * area[t] / v - 1);
    }
}

struct Influence {
    enum class Kind { mass, factor, water_temperature } kind = Kind::factor;
    double dlnV = 0;
    double dlnv = 0;
    double dlnA = 0;
    double temperature_C = 0;
};

InputDistribution deviation_of(const BudgetComponent& component) {
    switch (component.distribution) {
        case Distribution::rectangular:
            return rectangular_input(0, component.u * std::sqrt(3.0));
        case Distribution::triangular:
            return triangular_input(0, component.u * std::sqrt(6.0));
        case Distribution::normal:
        case Distribution::student:
            break;
    }
    return student_input(0, component.u, component.dof);
}

Influence influence_of(const BudgetComponent& component) {
    Influence influence;
    influence.dlnV = component.dlnV;
    influence.dlnv = component.dlnv;
    influence.dlnA = component.dlnA;
    if (component.id == "water_temperature") {
        influence.kind = Influence::Kind::water_temperature;
        influence.temperature_C = component.value;
    } else if (component.unit == "g" || component.unit == "g/h") {
        influence.kind = Influence::Kind::mass;  // grams add before anything multiplies them
    }
    return influence;
}

// Trials that make twice the standard deviation of an end of the interval as small as the tolerance, the
// distribution near to normal: s = sqrt(p (1 - p)/M)/density at the end (David and Nagaraja, Order
// Statistics, 2003, section 10.2, from memory); for 95 % s = 1.363 U/sqrt M.
std::size_t trials_for(double U, double tolerance) {
    constexpr double per_U = 1.363;
    const double root = tolerance > 0 ? 2 * per_U * U / tolerance : 0;
    return static_cast<std::size_t>(std::min(root * root, 1e9));
}

class StepModel {
public:
    StepModel(std::vector<Influence> influences, double volume_per_tip_mL, double ratio)
        : influences_(std::move(influences)), volume_per_tip_mL_(volume_per_tip_mL), ratio_(ratio) {}

    void operator()(std::size_t count, const double* const* inputs, double* const* outputs) const {
        alignas(64) Block mass;
        alignas(64) Block volume;
        alignas(64) Block per_tip;
        alignas(64) Block area;
        mass.fill(1);
        volume.fill(1);
        per_tip.fill(1);
        area.fill(1);
        for (std::size_t i = 0; i < influences_.size(); ++i) {
            const Influence& influence = influences_[i];
            const double* x = inputs[i];
            if (influence.kind == Influence::Kind::mass) {
                add_scaled(mass.data(), x, count, influence.dlnV);
            } else if (influence.kind == Influence::Kind::water_temperature) {
                alignas(64) Block density;
                relative_water_volume(influence.temperature_C, std::span(x, count),
                                      std::span(density).first(count));
                times(volume.data(), density.data(), count);
            } else if (influence.dlnV != 0) {
                times_one_plus(volume.data(), x, count, influence.dlnV);
            }
            if (influence.dlnv != 0) times_one_plus(per_tip.data(), x, count, influence.dlnv);
            if (influence.dlnA != 0) times_one_plus(area.data(), x, count, influence.dlnA);
        }
        finish(mass.data(), volume.data(), per_tip.data(), area.data(), count, volume_per_tip_mL_, ratio_,
               outputs[0], outputs[1]);
    }

private:
    std::vector<Influence> influences_;
    double volume_per_tip_mL_;
    double ratio_;  // 1 + e
};

}  // namespace

Result<StepMonteCarlo> monte_carlo_of(const StepResult& step, const StepMonteCarloOptions& options) {
    MonteCarloInputs inputs;
    std::vector<Influence> influences;
    for (const BudgetComponent& component : step.budget) {
        const Influence influence = influence_of(component);
        if (influence.dlnV == 0 && influence.dlnv == 0 && influence.dlnA == 0 &&
            influence.kind != Influence::Kind::water_temperature) {
            continue;  // the duration alone: e and v do not know it
        }
        inputs.distributions.push_back(deviation_of(component));
        influences.push_back(influence);
    }
    if (inputs.distributions.empty()) {
        return Fault{
            FaultCode::bad_value, "the budget has no component to draw from", step.observation.name(), {}};
    }
    MonteCarloOptions run;
    run.seed = mixed(options.seed + static_cast<std::uint64_t>(step.observation.step));
    run.coverage = step.error_expanded.coverage;
    run.threads = options.threads;
    run.significant_digits = options.significant_digits;
    run.tolerance_share = options.tolerance_share;
    const double U_volume = expanded(step.volume_per_tip_mL, run.coverage).U;
    // U is what is printed, to so many digits.
    run.tolerances = {numerical_tolerance(step.error_expanded.U, options.significant_digits),
                      numerical_tolerance(U_volume, options.significant_digits)};
    run.min_trials =
        std::min(options.max_trials,
                 std::max(trials_for(step.error_expanded.U, run.tolerances[0] * options.tolerance_share),
                          trials_for(U_volume, run.tolerances[1] * options.tolerance_share)));
    run.max_trials = options.max_trials;
    run.adaptive = options.adaptive;
    const StepModel model(std::move(influences), step.volume_per_tip_mL.value,
                          1 + step.error_percent.value / 100);
    auto result = run_monte_carlo(inputs, 2, model, run);
    if (!result) {
        Fault fault = result.fault();
        fault.where = step.observation.name() + ", " + fault.where;
        return fault;
    }
    StepMonteCarlo check;
    check.error_percent = result->outputs[0];
    check.volume_per_tip_mL = result->outputs[1];
    check.coverage = run.coverage;
    check.significant_digits = options.significant_digits;
    check.seed = options.seed;
    check.trials = result->trials;
    check.stable = result->stable;
    check.error_validation =
        validate_gum(step.error_percent.value, step.error_expanded.U, step.error_expanded.U,
                     check.error_percent.intervals.symmetric, options.significant_digits);
    check.volume_validation =
        validate_gum(step.volume_per_tip_mL.value, U_volume, U_volume,
                     check.volume_per_tip_mL.intervals.symmetric, options.significant_digits);
    return check;
}

}  // namespace tipwright::calib
