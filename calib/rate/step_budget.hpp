// The components of a step's uncertainty budget: each with its logarithmic sensitivities and what it has in
// common with other results (calib/rate/common_causes.hpp). Which there are stands in one list. Sources: JCGM
// 100:2008 clause 4.3 for the shapes, the models of calib/weighing for the slopes; checked against
// derivatives of the whole model in tests/calib/rate/golden_budgets.txt.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

// Scatter between the runs of a step beyond their own (calib/rate/repeats.hpp).
inline constexpr std::string_view run_scatter_id = "run_scatter";

// The id of every component a budget may have.
std::span<const std::string_view> budget_component_ids();

struct WaterOfStep {
    double density_kg_m3 = 0;
    double air_density_kg_m3 = 0;
    double weighed_g = 0;  // with what evaporated; 0 where a measure gave the volume
    double volume_mL = 0;
};

// scatter: of single tips, pooled over several steps; none: what this step alone has shown.
std::vector<BudgetComponent> step_budget(const StepObservation& observation, const Gauge& gauge,
                                         const BenchMetrology& bench, const WaterOfStep& water,
                                         const std::optional<TipScatter>& scatter,
                                         const CommonCauses& causes);

}  // namespace tipwright::calib
