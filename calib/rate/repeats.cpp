#include "calib/rate/repeats.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "calib/base/sums.hpp"
#include "calib/rate/step_budget.hpp"
#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

constexpr double disagreement_alarm = 0.001;

// What has a cause is the same in every run of a step.
bool averages_out(const BudgetComponent& component) {
    return component.cause.empty();
}

// By multiplying: of whole exponents, and called too often for pow.
double whole_power(double base, int exponent) {
    double product = 1;
    for (int k = 0; k < exponent; ++k) product *= base;
    return product;
}

// var(x_(1) + x_(n)) of n standard normal values: its mean is zero, so
//   n(n-1) integral over x < y of (x+y)^2 f(x) f(y) (F(y) - F(x))^(n-2).
double variance_of_extremes(int n) {
    constexpr double reach = 8;
    constexpr int half_steps = 200;
    constexpr double h = reach / half_steps;
    constexpr int points = 2 * half_steps + 1;
    std::vector<double> density;
    std::vector<double> cumulative;
    for (int i = 0; i < points; ++i) {
        const double x = (i - half_steps) * h;
        density.push_back(std::exp(-x * x / 2) / std::sqrt(2 * std::numbers::pi));
        cumulative.push_back(normal_cumulative(x));
    }
    double total = 0;
    for (int i = 0; i < points; ++i) {
        // Simpson over y from x on: the integrand is smooth there, not across y = x.
        const int intervals = (points - 1 - i) / 2 * 2;
        double inner = 0;
        for (int k = 0; k <= intervals; ++k) {
            const double weight = k == 0 || k == intervals ? 1 : k % 2 == 1 ? 4 : 2;
            const auto a = static_cast<std::size_t>(i);
            const auto b = a + static_cast<std::size_t>(k);
            const double sum = (2 * i + k - 2 * half_steps) * h;
            inner += weight * sum * sum * density[b] * whole_power(cumulative[b] - cumulative[a], n - 2);
        }
        total += density[static_cast<std::size_t>(i)] * inner * h / 3;
    }
    return n * (n - 1) * total * h;
}

double relative_e(const BudgetComponent& component) {
    return component.relative_to_e() * component.u;
}

// Variance of 1 + e of one run, relative, from what is new in each run.
double own_variance(const StepResult& run) {
    double sum = 0;
    for (const auto& component : run.budget) {
        if (averages_out(component)) sum += relative_e(component) * relative_e(component);
    }
    return sum;
}

struct Runs {
    const std::vector<StepResult>& all;
    std::vector<const StepResult*> kept;
    double share = 1;  // c_n
};

// Degrees of freedom of what is new in each run, by Welch and Satterthwaite.
double own_dof(const StepResult& step) {
    Contributions own;
    for (const BudgetComponent& component : step.budget)
        if (averages_out(component) && component.id != run_scatter_id)
            own.push_back({component.id, component.estimate, relative_e(component), component.dof, 0});
    return combined(0, own).dof;
}

const BudgetComponent* find(const StepResult& run, const std::string& id) {
    const auto found = std::find_if(run.budget.begin(), run.budget.end(),
                                    [&](const auto& component) { return component.id == id; });
    return found == run.budget.end() ? nullptr : &*found;
}

constexpr double BudgetComponent::*sensitivities[] = {&BudgetComponent::dlnV, &BudgetComponent::dlnv,
                                                      &BudgetComponent::dlnt, &BudgetComponent::dlnA};

// The same in every run kept: contributions are averaged with their sign, and keep their size.
BudgetComponent lasting(const BudgetComponent& like, const Runs& runs) {
    BudgetComponent result = like;
    const auto n = static_cast<double>(runs.kept.size());
    result.u = 0;
    for (auto s : sensitivities) result.*s = 0;
    for (const StepResult* run : runs.kept) {
        const BudgetComponent* part = find(*run, like.id);
        if (part == nullptr) continue;
        result.u += part->u / n;
        for (auto s : sensitivities) result.*s += part->*s * part->u / n;
    }
    for (auto s : sensitivities) result.*s = result.u > 0 ? result.*s / result.u : 0;
    return result;
}

// New in every run: variances of all runs are averaged and come down by c_n.
BudgetComponent renewed(const BudgetComponent& like, const Runs& runs) {
    BudgetComponent result = like;
    const auto n = static_cast<double>(runs.all.size());
    double u_squared = 0;
    double squares[4] = {};
    double fourth = 0;
    for (const StepResult& run : runs.all) {
        const BudgetComponent* part = find(run, like.id);
        if (part == nullptr) continue;
        const double u2 = part->u * part->u;
        u_squared += u2 / n;
        for (std::size_t s = 0; s < 4; ++s) {
            const double sensitivity = part->*sensitivities[s];
            squares[s] += sensitivity * sensitivity * u2 / n;
        }
        fourth += std::isfinite(part->dof) ? u2 * u2 / (n * n * part->dof) : 0;
    }
    result.u = std::sqrt(runs.share * u_squared);
    for (std::size_t s = 0; s < 4; ++s) {
        result.*sensitivities[s] =
            std::copysign(u_squared > 0 ? std::sqrt(squares[s] / u_squared) : 0.0, like.*sensitivities[s]);
    }
    // The scatter of single tips was found anew in each run; a balance's repeatability once for all.
    if (like.id == "tip_scatter" && fourth > 0) result.dof = u_squared * u_squared / fourth;
    if (result.distribution != Distribution::student) result.distribution = Distribution::normal;
    return result;
}

std::vector<BudgetComponent> combined_budget(const Runs& runs, double mean_error_percent) {
    std::vector<BudgetComponent> budget;
    for (const StepResult& run : runs.all) {
        for (const BudgetComponent& component : run.budget) {
            const bool known = std::any_of(budget.begin(), budget.end(),
                                           [&](const auto& other) { return other.id == component.id; });
            if (known) continue;
            BudgetComponent together =
                averages_out(component) ? renewed(component, runs) : lasting(component, runs);
            if (together.u > 0) budget.push_back(together);
        }
    }
    if (runs.all.size() < 2) return budget;
    std::vector<double> errors;
    double own = 0;
    for (const StepResult& run : runs.all) {
        errors.push_back(run.error_percent.value / (100 + mean_error_percent));
        own += own_variance(run) / static_cast<double>(runs.all.size());
    }
    const double between = sums_of(errors).deviation();
    const double beyond = between * between - own;
    if (beyond > 0) {
        // Those of the variance between the runs. Satterthwaite's for the difference of variances fall below
        // one where it is small, and no distribution has so few.
        const double dof = static_cast<double>(runs.all.size() - 1);
        budget.push_back({std::string(run_scatter_id), "scatter between the runs beyond their own", "%", 0,
                          100 * std::sqrt(runs.share * beyond), Distribution::student, dof, 0, 0.01, 0, 0});
    }
    return budget;
}

// Totals of the runs kept, means of their conditions.
StepObservation combined_observation(const Runs& runs) {
    StepObservation result = runs.kept.front()->observation;
    const auto n = static_cast<double>(runs.kept.size());
    result.repeat = 0;
    result.tips = 0;
    result.balance_difference_g = 0;
    result.duration_s = runs.kept.front()->observation.duration_s ? std::optional(0.0) : std::nullopt;
    result.contact_counts.assign(result.contact_counts.size(), 0);
    result.conditions = {0, 0, 0, 0};
    result.remarks.clear();
    result.findings.clear();
    double scatter_squares = 0;
    double scatter_dof = 0;
    double neighbours = 0;
    double neighbours_of = 0;
    double weighing_squares = 0;
    double excess = 0;
    double excess_squares = 0;
    double excess_dof = 0;
    bool sides = true;
    for (const StepResult* run : runs.kept) {
        const StepObservation& seen = run->observation;
        result.tips += seen.tips;
        result.balance_difference_g += seen.balance_difference_g;
        if (result.duration_s && seen.duration_s) *result.duration_s += *seen.duration_s;
        for (std::size_t c = 0; c < result.contact_counts.size() && c < seen.contact_counts.size(); ++c)
            result.contact_counts[c] += seen.contact_counts[c];
        result.balance_readings_per_edge =
            std::min(result.balance_readings_per_edge, seen.balance_readings_per_edge);
        weighing_squares += seen.weighing_scatter_u_g * seen.weighing_scatter_u_g;
        if (seen.weighing != result.weighing) result.weighing = WeighingMethod::staircase;
        scatter_squares += seen.scatter.dof * seen.scatter.sd_percent * seen.scatter.sd_percent;
        scatter_dof += seen.scatter.dof;
        neighbours += seen.scatter.neighbours * seen.scatter.neighbours_of;
        neighbours_of += seen.scatter.neighbours_of;
        result.conditions.water_temperature_C += seen.conditions.water_temperature_C / n;
        result.conditions.air_temperature_C += seen.conditions.air_temperature_C / n;
        result.conditions.air_pressure_hPa += seen.conditions.air_pressure_hPa / n;
        result.conditions.relative_humidity_percent += seen.conditions.relative_humidity_percent / n;
        if (seen.ended != CollectEnd::target_reached) result.ended = seen.ended;
        sides = sides && seen.compartments.has_value();
        if (seen.compartments) {
            excess += seen.compartments->a_excess_percent / n;
            excess_squares += seen.compartments->u_percent * seen.compartments->u_percent / n;
            excess_dof += seen.compartments->dof;
        }
    }
    result.weighing_scatter_u_g = std::sqrt(weighing_squares);
    if (scatter_dof > 0)
        result.scatter = {std::sqrt(scatter_squares / scatter_dof),
                          scatter_dof,
                          result.scatter.from,
                          result.scatter.tips_per_group,
                          neighbours_of > 0 ? neighbours / neighbours_of : 0,
                          neighbours_of};
    result.compartments.reset();
    if (sides)
        result.compartments = CompartmentBalance{excess, std::sqrt(runs.share * excess_squares), excess_dof};
    return result;
}

}  // namespace

double variance_share(RepeatRule rule, int n) {
    if (rule == RepeatRule::mean || n < 3) return 1.0 / std::max(n, 1);
    const double kept = n - 2;
    return (n - 4 + variance_of_extremes(n)) / (kept * kept);
}

Result<StepResult> combine_repeats(const std::vector<StepResult>& runs, RepeatRule rule, double coverage) {
    if (runs.empty()) return Fault{FaultCode::too_few_points, "a step without a run", "repeats", ""};
    Runs all{runs, {}, variance_share(rule, static_cast<int>(runs.size()))};
    std::size_t lowest = runs.size();
    std::size_t highest = runs.size();
    if (rule == RepeatRule::discard_extremes_mean && runs.size() >= 3) {
        const auto by_error = [](const StepResult& a, const StepResult& b) {
            return a.error_percent.value < b.error_percent.value;
        };
        // With equal errors the first is the lowest and the last the highest: two different runs.
        const auto ends = std::minmax_element(runs.begin(), runs.end(), by_error);
        lowest = static_cast<std::size_t>(ends.first - runs.begin());
        highest = static_cast<std::size_t>(ends.second - runs.begin());
    }
    StepResult result;
    StepValues values;
    double flow = 0;
    double reference = 0;
    bool timed = true;
    for (std::size_t i = 0; i < runs.size(); ++i) {
        const StepResult& run = runs[i];
        const bool kept = i != lowest && i != highest;
        result.repeats.push_back({run.observation, kept, run.volume_per_tip_mL, run.error_percent,
                                  run.reference_intensity_mm_h, run.error_expanded});
        if (kept) all.kept.push_back(&run);
    }
    const auto n = static_cast<double>(all.kept.size());
    for (const StepResult* run : all.kept) {
        values.volume_mL += run->volume_mL.value;
        values.error_percent += run->error_percent.value / n;
        result.mass_g += run->mass_g;
        result.evaporated_g += run->evaporated_g;
        result.air_density_kg_m3 += run->air_density_kg_m3 / n;
        result.water_density_kg_m3 += run->water_density_kg_m3 / n;
        timed = timed && run->flow_mL_min && run->reference_intensity_mm_h;
        if (!timed) continue;
        flow += run->flow_mL_min->value / n;
        reference += run->reference_intensity_mm_h->value / n;
    }
    // A h_n, from any run: v (1 + e).
    const StepResult& first = *all.kept.front();
    const double nominal_mL = first.volume_per_tip_mL.value * (1 + first.error_percent.value / 100);
    values.volume_per_tip_mL = nominal_mL / (1 + values.error_percent / 100);
    result.observation = combined_observation(all);
    result.budget = combined_budget(all, values.error_percent);
    if (timed) {
        values.flow_mL_min = flow;
        values.reference_intensity_mm_h = reference;
        result.indicated_intensity_mm_h = reference * (1 + values.error_percent / 100);
        result.mean_interval_s = 60 * values.volume_per_tip_mL / flow;
    }
    if (auto completed = complete_from_budget(result, values, coverage); !completed) return completed.fault();
    return result;
}

std::optional<Finding> repeats_disagree(const StepResult& step) {
    if (step.repeats.size() < 2) return std::nullopt;
    std::vector<double> errors;
    double own = 0;
    for (const StepRepeat& run : step.repeats) {
        errors.push_back(run.error_percent.value);
    }
    // What is new in each run, of the combined budget, back to the size it has in one run.
    const int n = static_cast<int>(errors.size());
    const RepeatRule rule = repeats_kept(step) < n ? RepeatRule::discard_extremes_mean : RepeatRule::mean;
    for (const BudgetComponent& component : step.budget) {
        if (averages_out(component) && component.id != run_scatter_id)
            own += relative_e(component) * relative_e(component);
    }
    own *= std::pow(100 + step.error_percent.value, 2) / variance_share(rule, n);
    const Sums spread = sums_of(errors);
    // The runs' own variance is an estimate too: F instead of chi-squared.
    const double ratio = spread.squares / (n - 1) / own;
    if (!(own > 0) || !(ratio > fisher_quantile(1 - disagreement_alarm, n - 1, own_dof(step))))
        return std::nullopt;
    return finding_of(FindingId::runs_disagree,
                      {{"runs", static_cast<double>(n), 0},
                       {"spread_percent", spread.deviation(), 2},
                       {"own_percent", std::sqrt(own), 2}},
                      spread.squares / own, chi_squared_quantile(1 - disagreement_alarm, n - 1),
                      disagreement_alarm);
}

int repeats_kept(const StepResult& step) {
    if (step.repeats.empty()) return 1;
    return static_cast<int>(
        std::count_if(step.repeats.begin(), step.repeats.end(), [](const auto& run) { return run.kept; }));
}

}  // namespace tipwright::calib
