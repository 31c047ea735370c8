// What runs of a plan state, from runs drawn and evaluated.
#include <algorithm>
#include <cmath>
#include <span>

#include "calib/base/rounding.hpp"
#include "calib/decision/evaluation.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/random_lanes.hpp"
#include "calib/trial/plan_precision.hpp"

namespace tipwright::calib::trial {

namespace {

constexpr std::uint64_t promise_seed = 20;
constexpr double water_kg_L = 0.99716;  // less buoyancy; cancels in the relative differences

double nearest_in_rank(std::vector<double> values, double share) {
    if (values.empty()) return 0;
    const auto at =
        static_cast<std::ptrdiff_t>(std::floor(share * static_cast<double>(values.size() - 1) + 0.5));
    std::nth_element(values.begin(), values.begin() + at, values.end());
    return values[static_cast<std::size_t>(at)];
}

// As a certificate prints it.
double printed(double U_percent) {
    return std::stod(round_with_uncertainty(0, U_percent).uncertainty);
}

}  // namespace

Result<PlanPromise> promise_of(const PlanQuestion& question, const DesignedPlan& plan) {
    const auto precision = PlanPrecision::of(question);
    if (!precision) return precision.fault();
    std::vector<StepModel> models;
    Plan run;
    for (const PlannedStep& step : plan.steps) {
        auto model = precision->model(step.intensity_mm_h);
        if (!model) return model.fault();
        models.push_back(std::move(*model));
        run.steps.push_back({step.intensity_mm_h, step.tips, 0, 1});
    }
    run.coverage = question.coverage;
    BenchMetrology bench = question.bench;
    bench.capability.clear();
    const std::size_t count = plan.steps.size();
    RandomLanes random(promise_seed, 0, 0);
    std::vector<double> normal((count * promise_runs + random_block_step) / random_block_step *
                               random_block_step);
    std::vector<double> uniform(normal.size());
    for (std::size_t at = 0; at < normal.size(); at += random_block) {
        const std::size_t length = std::min(random_block, normal.size() - at);
        random.fill_normal(std::span(normal).subspan(at, length));
        random.fill_uniform(std::span(uniform).subspan(at, length));
    }
    const RateForm expected = question.expected.curved ? RateForm::curve : RateForm::line;
    const double wanted = printed(std::max(question.wanted_U_percent, plan.U_percent));
    PlanPromise out;
    std::vector<double> all;
    std::vector<double> of_rejected;
    for (std::size_t n = 0; n < static_cast<std::size_t>(promise_runs); ++n) {
        std::vector<StepObservation> observations;
        for (std::size_t j = 0; j < count; ++j) {
            const StepModel& model = models[j];
            const double tips = plan.steps[j].tips;
            const double v =
                model.volume_mL *
                (1 + std::sqrt(model.alpha / (tips * tips) + model.beta / tips) * normal[n * count + j]);
            StepObservation one;
            one.step = static_cast<int>(j) + 1;
            one.set_intensity_mm_h = plan.steps[j].intensity_mm_h;
            one.tips = plan.steps[j].tips;
            one.duration_s = tips * model.interval_s;
            one.balance_difference_g = tips * v * water_kg_L;
            // The scatter is known from so many tips.
            const double dof = std::max(1.0, tips - 2.0);
            one.scatter = {question.expected.tip_scatter_percent *
                               std::sqrt(chi_squared_quantile(uniform[n * count + j], dof) / dof),
                           dof, "intervals", 1};
            observations.push_back(std::move(one));
        }
        const auto evaluation = evaluate(observations, question.expected.gauge, bench, run);
        if (!evaluation || !evaluation->correction || !evaluation->model) continue;
        double U = 0;
        for (const CorrectionRow& row : evaluation->correction->rows)
            U = std::max(U, 100 * row.factor_U / row.factor);
        const RateCandidate* chosen = evaluation->model->chosen_candidate();
        all.push_back(U);
        if (chosen == nullptr || chosen->form != expected || !chosen->passes) of_rejected.push_back(U);
        out.kept += printed(U) <= wanted ? 1 : 0;
    }
    if (all.empty())
        return Fault{FaultCode::too_few_points, "no run of this plan would give a correction", "plan",
                     "give steps at more intensities"};
    out.runs = static_cast<int>(all.size());
    out.kept /= out.runs;
    out.form_rejected = static_cast<double>(of_rejected.size()) / out.runs;
    out.U_middle_percent = nearest_in_rank(all, 0.5);
    out.U_most_percent = nearest_in_rank(all, 0.95);
    out.U_rejected_percent = nearest_in_rank(of_rejected, 0.5);
    return out;
}

}  // namespace tipwright::calib::trial
