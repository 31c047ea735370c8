// Law of propagation of uncertainty for any model: JCGM 100:2008 clause 5.1.2 (independent inputs), 5.2.2
// (correlated), the second-order terms of the note to 5.1.2, effective degrees of freedom G.4.1
// (Welch-Satterthwaite). Units: those of the model.
//
// Sensitivities are taken by differences over a fraction of each input's standard uncertainty (error below
// 1e-6 of a contribution for models smooth over that width; tests/calib/statistics/budget_test.cpp), or given
// by the caller. Welch-Satterthwaite wants independent contributions: inputs linked by correlation count as
// one, with the fewest degrees of freedom among them: on the safe side. Faults: bad_value, bad_covariance,
// not_finite (input or model), each naming the input.
#pragma once

#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

struct BudgetInput {
    std::string name;
    Uncertain quantity;
};

using Model = std::function<double(std::span<const double>)>;

struct PropagationOptions {
    SquareMatrix correlation;   // empty: independent inputs
    bool second_order = false;  // independent inputs only
};

struct Propagated {
    Uncertain result;
    std::vector<double> sensitivities;  // df/dx_i
    std::vector<double> contributions;  // c_i u(x_i), signed
    double second_order_variance = 0;   // sum of the higher-order terms; 0 unless asked for
};

Result<Propagated> propagate(const std::vector<BudgetInput>& inputs, const Model& model,
                             const PropagationOptions& options = {});
// With known sensitivities and the value of the result.
Result<Propagated> propagate(const std::vector<BudgetInput>& inputs, double value,
                             std::vector<double> sensitivities, const PropagationOptions& options = {});

// G.4.1: contributions c_i u_i with their degrees of freedom. Infinite when none is finite.
double welch_satterthwaite(std::span<const double> contributions, std::span<const double> dof);
// The same of sums that were made elsewhere: of the contributions' squares, and of their fourth powers, each
// over its degrees of freedom where these are finite.
double welch_satterthwaite(double variance, double fourth);

}  // namespace tipwright::calib
