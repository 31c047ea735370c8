#include "calib/trial/plan_precision.hpp"

#include <algorithm>
#include <cmath>

#include "calib/rate/step_result.hpp"
#include "calib/statistics/distributions.hpp"

namespace tipwright::calib::trial {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int grid_points = 25;  // at which U is looked at

}  // namespace

Result<PlanPrecision> PlanPrecision::of(const PlanQuestion& question) {
    const ExpectedGauge& expected = question.expected;
    const auto bad = [](const std::string& what, const std::string& remedy) {
        return Fault{FaultCode::bad_value, what, "plan", remedy};
    };
    if (!(question.from_mm_h > 0 && question.from_mm_h < question.to_mm_h && question.to_mm_h <= 3000))
        return bad("that is not a range of intensities", "from above 0 to at most 3000 mm/h");
    if (!(question.wanted_U_percent > 0 && question.wanted_U_percent < 100))
        return bad("the wanted uncertainty cannot be", "above 0 to 100 %");
    if (!(expected.volume_per_tip_mL > 0) || !(expected.movement_s >= 0) ||
        !(expected.tip_scatter_percent > 0 && expected.tip_scatter_percent < 100))
        return bad("what is expected of the gauge cannot be", "volume and scatter above 0");
    if (!(question.coverage > 0 && question.coverage < 1)) return bad("no coverage", "for example 0.95");
    PlanPrecision out(question);
    const Uncertain area = expected.gauge.catch_area_cm2();
    out.area_u_ = area.u / area.value;
    for (int i = 0; i < grid_points; ++i) {
        const double share = static_cast<double>(i) / (grid_points - 1);
        const double intensity = question.from_mm_h * std::pow(question.to_mm_h / question.from_mm_h, share);
        out.grid_.push_back(flow_mL_min(intensity, area.value) / 60);
    }
    return out;
}

Result<StepModel> PlanPrecision::model(double intensity_mm_h) const {
    const ExpectedGauge& expected = question_.expected;
    constexpr int tips = 100;
    StepModel out;
    out.flow_mL_s = flow_mL_min(intensity_mm_h, expected.gauge.catch_area_cm2().value) / 60;
    out.volume_mL = volume(out.flow_mL_s);
    out.interval_s = out.volume_mL / out.flow_mL_s;
    // A collect opens on a tip: on the last of those let pass, or the first after the time is over.
    out.settle_s = std::max(question_.settle_s + out.interval_s / 2, question_.settle_tips * out.interval_s);
    StepObservation observation;
    observation.step = 1;
    observation.tips = tips;
    observation.set_intensity_mm_h = intensity_mm_h;
    observation.duration_s = tips * out.interval_s;
    observation.balance_difference_g = 0.998 * out.volume_mL * tips;
    observation.scatter = {expected.tip_scatter_percent, tips - 2.0, "intervals", 1};
    // Tips bring down what is measured, not what the laboratory claims at least.
    BenchMetrology bench = question_.bench;
    bench.capability.clear();
    const auto step =
        evaluate_step(observation, expected.gauge, bench, question_.coverage, observation.scatter);
    if (!step) return step.fault();
    // v and Q come from one weighing: what shifts Q too moves along the curve.
    const double slope = expected.movement_s + 2 * expected.curvature_s2_mL * out.flow_mL_s;
    const double kappa = slope * out.flow_mL_s / out.volume_mL;
    for (const BudgetComponent& component : step->budget) {
        if (component.id == "catch_area") continue;
        const double u = (component.relative_to_v() - kappa * component.relative_to_Q()) * component.u;
        // What acts by the reading of the instrument is another at each step's.
        if (!component.cause.empty() && component.at == 0)
            out.shared[component.id] += u;
        else if (component.id.starts_with("tip_scatter"))
            out.beta += u * u * tips;
        else
            out.alpha += u * u * tips * tips;
    }
    return out;
}

double PlanPrecision::volume(double flow) const {
    const ExpectedGauge& expected = question_.expected;
    return expected.volume_per_tip_mL + expected.movement_s * flow + expected.curvature_s2_mL * flow * flow;
}

MatrixXd PlanPrecision::shared_by(const std::vector<StepModel>& steps) const {
    const Index n = static_cast<Index>(steps.size());
    MatrixXd out = MatrixXd::Zero(n, n);
    for (Index j = 0; j < n; ++j)
        for (Index i = 0; i <= j; ++i) {
            const StepModel& step = steps[static_cast<std::size_t>(j)];
            const StepModel& other = steps[static_cast<std::size_t>(i)];
            double sum = 0;
            for (const auto& [id, u] : step.shared)
                if (const auto found = other.shared.find(id); found != other.shared.end())
                    sum += u * found->second;
            out(i, j) = out(j, i) = sum * step.volume_mL * other.volume_mL;
        }
    return out;
}

double PlanPrecision::largest_U(const std::vector<StepModel>& steps, const std::vector<double>& tips,
                                MatrixXd V, Index p) const {
    const Index n = static_cast<Index>(steps.size());
    if (n < p) return infinite_dof;
    MatrixXd X(n, p);
    double all = 0;
    for (Index j = 0; j < n; ++j) {
        const StepModel& step = steps[static_cast<std::size_t>(j)];
        const double N = tips[static_cast<std::size_t>(j)];
        all += N - 2;
        V(j, j) += step.volume_mL * step.volume_mL * (step.alpha / (N * N) + step.beta / N);
        const double x = step.flow_mL_s / grid_.back();
        for (Index c = 0; c < p; ++c) X(j, c) = c == 0 ? 1 : X(j, c - 1) * x;
    }
    const Eigen::LLT<MatrixXd> llt(V);
    if (llt.info() != Eigen::Success) return infinite_dof;
    const MatrixXd information = X.transpose() * llt.solve(X);
    const Eigen::LLT<MatrixXd> of_information(information);
    if (of_information.info() != Eigen::Success) return infinite_dof;
    double largest = 0;
    for (double flow : grid_) {
        VectorXd x(p);
        for (Index c = 0; c < p; ++c) x(c) = c == 0 ? 1 : x(c - 1) * flow / grid_.back();
        const double v = volume(flow);
        largest = std::max(largest, x.dot(of_information.solve(x)) / (v * v));
    }
    // The scatter is known from the tips themselves.
    const double k = student_two_sided(question_.coverage, std::max(2.0, all));
    return 100 * k * std::sqrt(largest + area_u_ * area_u_);
}

double PlanPrecision::wetting_s() const {
    const double flow =
        flow_mL_min(question_.wetting_intensity_mm_h, question_.expected.gauge.catch_area_cm2().value) / 60;
    return question_.wetting_tips * volume(flow) / flow;
}

}  // namespace tipwright::calib::trial
