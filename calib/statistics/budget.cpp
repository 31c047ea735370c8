#include "calib/statistics/budget.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "calib/statistics/covariance.hpp"
#include "calib/statistics/model_inputs.hpp"

namespace tipwright::calib {

namespace {

// Step of the differences in standard uncertainties: small enough for the curvature of any sensible model,
// large enough that rounding of the model's value stays below 1e-9 of a contribution of 1e-6.
constexpr double step_in_u = 0.1;

Outcome check(const std::vector<BudgetInput>& inputs, const PropagationOptions& options) {
    if (inputs.empty() || inputs.size() > most_inputs) {
        return Fault{
            FaultCode::bad_value,
            std::to_string(inputs.size()) + " inputs: 1 to " + std::to_string(most_inputs) + " are possible",
            "budget",
            {}};
    }
    for (const BudgetInput& input : inputs) {
        if (!std::isfinite(input.quantity.value) || !std::isfinite(input.quantity.u)) {
            return Fault{FaultCode::not_finite, "value or uncertainty is not finite", input.name, {}};
        }
        if (!(input.quantity.u >= 0)) {
            return Fault{FaultCode::bad_value, "standard uncertainty is negative", input.name, {}};
        }
        if (!(input.quantity.dof > 0)) {
            return Fault{FaultCode::bad_value, "degrees of freedom are not above zero", input.name, {}};
        }
    }
    if (options.correlation.n == 0) return Done{};
    if (options.second_order) {
        return Fault{FaultCode::bad_value, "second-order terms are defined for independent inputs only",
                     "budget", "check correlated inputs by Monte Carlo instead"};
    }
    if (Outcome checked = check_covariance(options.correlation, inputs.size(), "correlation", "input");
        !checked) {
        return checked;
    }
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        if (!(std::fabs(options.correlation(i, i) - 1) <= 1e-9)) {
            return Fault{FaultCode::bad_covariance, "correlation with itself is not 1", inputs[i].name, {}};
        }
    }
    return Done{};
}

// The model about the estimates, moved by multiples of a step in one or two inputs.
class Around {
public:
    Around(const std::vector<BudgetInput>& inputs, const Model& model) : model_(model) {
        for (const BudgetInput& input : inputs) {
            x_.push_back(input.quantity.value);
            const double u = input.quantity.u;
            const double size = std::fabs(input.quantity.value);
            // An exact input still has a sensitivity, to be seen in the budget.
            step_.push_back(u > 0 ? step_in_u * u : 1e-4 * (size > 0 ? size : 1));
        }
    }

    double at(std::size_t i, double steps) const {
        std::vector<double> x = x_;
        x[i] += steps * step_[i];
        return model_(x);
    }

    double at(std::size_t i, double steps_i, std::size_t j, double steps_j) const {
        std::vector<double> x = x_;
        x[i] += steps_i * step_[i];
        x[j] += steps_j * step_[j];
        return model_(x);
    }

    double centre() const { return model_(x_); }
    double step(std::size_t i) const { return step_[i]; }

    // Five-point rule: the error is that of the fifth derivative.
    double slope(std::size_t i) const {
        return (8 * (at(i, 1) - at(i, -1)) - (at(i, 2) - at(i, -2))) / (12 * step_[i]);
    }

private:
    const Model& model_;
    std::vector<double> x_;
    std::vector<double> step_;
};

// Sum over i, j of [ (f_ij)^2/2 + f_i f_ijj ] u_i^2 u_j^2, in units of the steps.
double second_order(const Around& around, const std::vector<BudgetInput>& inputs,
                    const std::vector<double>& sensitivities) {
    const std::size_t n = inputs.size();
    const double centre = around.centre();
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) {
        const double u_i = inputs[i].quantity.u / around.step(i);
        const double f_i = sensitivities[i] * around.step(i);
        for (std::size_t j = 0; j < n; ++j) {
            const double u_j = inputs[j].quantity.u / around.step(j);
            double f_ij = 0;
            double f_ijj = 0;
            if (i == j) {
                f_ij = around.at(i, 1) - 2 * centre + around.at(i, -1);
                f_ijj = (around.at(i, 2) - around.at(i, -2)) / 2 - (around.at(i, 1) - around.at(i, -1));
            } else {
                const double plus = around.at(i, 1, j, 1) - around.at(i, 1, j, -1);
                const double minus = around.at(i, -1, j, 1) - around.at(i, -1, j, -1);
                f_ij = (plus - minus) / 4;
                const double curve_plus =
                    around.at(i, 1, j, 1) - 2 * around.at(i, 1) + around.at(i, 1, j, -1);
                const double curve_minus =
                    around.at(i, -1, j, 1) - 2 * around.at(i, -1) + around.at(i, -1, j, -1);
                f_ijj = (curve_plus - curve_minus) / 2;
            }
            sum += (f_ij * f_ij / 2 + f_i * f_ijj) * u_i * u_i * u_j * u_j;
        }
    }
    return sum;
}

// Groups of inputs linked by correlation; every group is one contribution to Welch-Satterthwaite.
double effective_dof(const std::vector<BudgetInput>& inputs, const std::vector<double>& contributions,
                     const SquareMatrix& correlation) {
    const std::size_t n = inputs.size();
    std::vector<double> dof;
    dof.reserve(n);
    for (const BudgetInput& input : inputs) dof.push_back(input.quantity.dof);
    if (correlation.n == 0) return welch_satterthwaite(contributions, dof);

    std::vector<std::size_t> group(n);
    std::iota(group.begin(), group.end(), std::size_t{0});
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            if (correlation(i, j) == 0 || group[i] == group[j]) continue;
            const std::size_t old = group[i];
            std::replace(group.begin(), group.end(), old, group[j]);
        }
    }
    std::vector<double> parts;
    std::vector<double> part_dof;
    for (std::size_t g = 0; g < n; ++g) {
        double variance = 0;
        double fewest = infinite_dof;
        bool any = false;
        for (std::size_t i = 0; i < n; ++i) {
            if (group[i] != g) continue;
            any = true;
            if (contributions[i] != 0) fewest = std::min(fewest, dof[i]);
            for (std::size_t j = 0; j < n; ++j) {
                if (group[j] == g) variance += contributions[i] * contributions[j] * correlation(i, j);
            }
        }
        if (!any) continue;
        parts.push_back(std::sqrt(std::max(variance, 0.0)));
        part_dof.push_back(fewest);
    }
    return welch_satterthwaite(parts, part_dof);
}

}  // namespace

double welch_satterthwaite(std::span<const double> contributions, std::span<const double> dof) {
    double variance = 0;
    double fourth = 0;
    for (std::size_t i = 0; i < contributions.size(); ++i) {
        const double square = contributions[i] * contributions[i];
        variance += square;
        if (std::isfinite(dof[i])) fourth += square * square / dof[i];
    }
    return welch_satterthwaite(variance, fourth);
}

double welch_satterthwaite(double variance, double fourth) {
    return fourth > 0 ? variance * variance / fourth : infinite_dof;
}

Result<Propagated> propagate(const std::vector<BudgetInput>& inputs, double value,
                             std::vector<double> sensitivities, const PropagationOptions& options) {
    if (Outcome checked = check(inputs, options); !checked) return checked.fault();
    if (sensitivities.size() != inputs.size()) {
        return Fault{FaultCode::bad_value, "as many sensitivities as inputs are needed", "budget", {}};
    }
    if (!std::isfinite(value))
        return Fault{FaultCode::not_finite, "the model gives no finite value", "budget", {}};
    Propagated result;
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        if (!std::isfinite(sensitivities[i])) {
            return Fault{FaultCode::not_finite, "the model's sensitivity is not finite", inputs[i].name,
                         "check the model near the estimate of this input"};
        }
        result.contributions.push_back(sensitivities[i] * inputs[i].quantity.u);
    }
    double variance = 0;
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        variance += result.contributions[i] * result.contributions[i];
        for (std::size_t j = 0; options.correlation.n != 0 && j < i; ++j) {
            variance += 2 * result.contributions[i] * result.contributions[j] * options.correlation(i, j);
        }
    }
    result.sensitivities = std::move(sensitivities);
    result.result = {value, std::sqrt(std::max(variance, 0.0)),
                     effective_dof(inputs, result.contributions, options.correlation)};
    return result;
}

Result<Propagated> propagate(const std::vector<BudgetInput>& inputs, const Model& model,
                             const PropagationOptions& options) {
    if (Outcome checked = check(inputs, options); !checked) return checked.fault();
    const Around around(inputs, model);
    std::vector<double> sensitivities;
    for (std::size_t i = 0; i < inputs.size(); ++i) sensitivities.push_back(around.slope(i));
    auto result = propagate(inputs, around.centre(), sensitivities, options);
    if (!result || !options.second_order) return result;
    result->second_order_variance = second_order(around, inputs, sensitivities);
    const double variance = result->result.u * result->result.u + result->second_order_variance;
    if (!std::isfinite(variance)) {
        return Fault{FaultCode::not_finite, "the second-order terms are not finite", "budget", {}};
    }
    result->result.u = std::sqrt(std::max(variance, 0.0));
    return result;
}

}  // namespace tipwright::calib
