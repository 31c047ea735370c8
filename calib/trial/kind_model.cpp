#include "calib/trial/kind_model.hpp"

#include <algorithm>
#include <cmath>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib::trial {

namespace {

// Steps set to one intensity are held within 2 %; neighbouring set points of plans lie 30 % apart and more.
constexpr double one_level = 1.08;
// Of a run whose intensity is not known, a static check: any number does, there is one knot then.
constexpr double to_percent = 100;

std::vector<double> levels_of(const KindData& data) {
    std::vector<double> all;
    for (const TrialRun& run : data.runs)
        for (const TrialPoint& point : run.points) all.push_back(point.intensity_mm_h);
    std::sort(all.begin(), all.end());
    std::vector<double> knots;
    std::size_t first = 0;
    for (std::size_t i = 1; i <= all.size(); ++i) {
        if (i < all.size() && all[i] <= one_level * all[i - 1]) continue;
        double sum = 0;
        for (std::size_t j = first; j < i; ++j) sum += all[j];
        knots.push_back(sum / static_cast<double>(i - first));
        first = i;
    }
    return knots;
}

Fault about(const KindData& data, Fault fault) {
    fault.where = "kind " + data.kind + (fault.where.empty() ? "" : ", " + fault.where);
    return fault;
}

// What y stands for, and what a change of y is in per cent of error.
double error_of(double y) {
    return to_percent * (1 / y - 1);
}
double slope_of(double y) {
    return -to_percent / (y * y);
}

// y of a gauge of this kind at an intensity.
Functional at(const KindModel& kind, double intensity_mm_h, bool single_gauge) {
    Functional out;
    out.c = knot_weights(kind.knots_mm_h, intensity_mm_h);
    if (single_gauge) {
        out.z.push_back(1);
        if (kind.model.random_columns == 2) out.z.push_back(intensity_mm_h / kind.tilt_unit_mm_h);
    }
    return out;
}

double between_variance(const KindModel& kind, double intensity_mm_h) {
    const MixedModel& model = kind.model;
    const double t = model.random_columns == 2 ? intensity_mm_h / kind.tilt_unit_mm_h : 0;
    return std::max(
        0.0, model.level_variance() + 2 * t * model.level_tilt_covariance() + t * t * model.tilt_variance());
}

// A gauge of this kind: y, its variance with the bench's common part, degrees of freedom.
FunctionalResult predicted(const KindModel& kind, double intensity_mm_h) {
    FunctionalResult out = evaluate(kind.model, at(kind, intensity_mm_h, true));
    const double common = kind.u_common_percent / slope_of(out.value);
    const double own = out.variance;
    out.variance += common * common;
    // Welch and Satterthwaite, the common part known as well as any bench's budget says.
    if (own > 0) out.dof *= (out.variance / own) * (out.variance / own);
    return out;
}

}  // namespace

std::vector<double> knot_weights(const std::vector<double>& knots, double intensity_mm_h) {
    std::vector<double> out(knots.size(), 0);
    if (knots.size() == 1 || intensity_mm_h <= knots.front()) {
        out.front() = 1;
        return out;
    }
    std::size_t i = 1;
    while (i + 1 < knots.size() && intensity_mm_h > knots[i]) ++i;
    const double share = (intensity_mm_h - knots[i - 1]) / (knots[i] - knots[i - 1]);
    out[i - 1] = 1 - share;
    out[i] = share;
    return out;
}

Result<KindModel> model_kind(const KindData& data) {
    KindModel out;
    out.kind = data.kind;
    out.specimens = data.specimens;
    out.runs = static_cast<int>(data.runs.size());
    for (const TrialRun& run : data.runs)
        for (const TrialPoint& point : run.points) {
            if (!(point.intensity_mm_h > 0 && point.intensity_mm_h < 1e5) ||
                !(point.error_percent > -99 && point.error_percent < 1e4) || !(point.u_common_percent >= 0))
                return about(data, {FaultCode::bad_value, "a point that cannot be", "",
                                    "intensities in mm/h, errors in per cent above -99"});
        }
    if (data.specimens < 2)
        return about(data, {FaultCode::too_few_points, std::to_string(data.specimens) + " specimen", "",
                            "what gauges of a kind differ by needs two at the least"});
    out.knots_mm_h = levels_of(data);
    if (out.knots_mm_h.empty() || out.knots_mm_h.size() > max_knots)
        return about(
            data, {FaultCode::too_few_points, std::to_string(out.knots_mm_h.size()) + " intensities in all",
                   "", "measure the specimens at the same one to " + std::to_string(max_knots)});
    out.tilt_unit_mm_h = out.knots_mm_h.back();

    const bool with_tilt = out.knots_mm_h.size() > 1 && data.specimens > 2;
    const bool with_runs = out.runs > data.specimens;
    MixedData& mixed = out.data;
    double common = 0;
    for (std::size_t r = 0; r < data.runs.size(); ++r)
        for (const TrialPoint& point : data.runs[r].points) {
            mixed.y.push_back(1 / (1 + point.error_percent / to_percent));
            mixed.specimen.push_back(data.runs[r].specimen);
            if (with_runs) mixed.run.push_back(static_cast<int>(r));
            const auto weights = knot_weights(out.knots_mm_h, point.intensity_mm_h);
            mixed.fixed.values.insert(mixed.fixed.values.end(), weights.begin(), weights.end());
            mixed.random.values.push_back(1);
            if (with_tilt) mixed.random.values.push_back(point.intensity_mm_h / out.tilt_unit_mm_h);
            common += point.u_common_percent * point.u_common_percent;
        }
    mixed.fixed.rows = mixed.random.rows = mixed.y.size();
    mixed.fixed.columns = out.knots_mm_h.size();
    mixed.random.columns = with_tilt ? 2 : 1;
    out.u_common_percent = std::sqrt(common / static_cast<double>(mixed.y.size()));
    auto model = fit_mixed_model(mixed);
    if (!model) return about(data, model.fault());
    out.model = std::move(*model);
    for (double y : out.model.parameters)
        if (!(y > 0))
            return about(data, {FaultCode::not_finite, "the curve leaves what a gauge can do", "",
                                "check the errors for one that does not belong"});
    return out;
}

CurveValue curve_at(const KindModel& kind, double intensity_mm_h, double coverage) {
    CurveValue out;
    out.intensity_mm_h = intensity_mm_h;
    const FunctionalResult mean = evaluate(kind.model, at(kind, intensity_mm_h, false));
    const double slope = slope_of(mean.value);
    const double own = slope * slope * mean.variance;
    const double total = own + kind.u_common_percent * kind.u_common_percent;
    out.mean = {error_of(mean.value), std::sqrt(total),
                own > 0 ? mean.dof * (total / own) * (total / own) : infinite_dof};
    out.U_mean = expanded(out.mean, coverage).U;
    out.between_sd = std::abs(slope) * std::sqrt(between_variance(kind, intensity_mm_h));
    out.within_sd = std::abs(slope) * std::sqrt(kind.model.run_variance() + kind.model.residual_variance());
    const FunctionalResult one = predicted(kind, intensity_mm_h);
    const double half = student_two_sided(coverage, one.dof) * std::sqrt(one.variance);
    out.low = error_of(one.value + half);
    out.high = one.value > half ? error_of(one.value - half) : infinite_dof;
    return out;
}

double probability_within(const KindModel& kind, double intensity_mm_h, double limit_percent) {
    const FunctionalResult one = predicted(kind, intensity_mm_h);
    const double share = limit_percent / to_percent;
    const double least = 1 / (1 + share);
    const double most = share < 1 ? 1 / (1 - share) : infinite_dof;
    const double sd = std::sqrt(one.variance);
    if (!(sd > 0)) return one.value >= least && one.value <= most ? 1 : 0;
    const double above = std::isfinite(most) ? student_cumulative((most - one.value) / sd, one.dof) : 1;
    return above - student_cumulative((least - one.value) / sd, one.dof);
}

KeptRange kept_range(const KindModel& kind, double limit_percent, double probability) {
    KeptRange out;
    const double low = kind.knots_mm_h.front();
    const double high = kind.knots_mm_h.back();
    const auto kept = [&](double intensity) {
        return probability_within(kind, intensity, limit_percent) >= probability;
    };
    out.at_all = kept(low);
    out.to_mm_h = low;
    if (!out.at_all) return out;
    constexpr int steps = 400;
    for (int i = 1; i <= steps; ++i) {
        double next = low * std::pow(high / low, static_cast<double>(i) / steps);
        if (i == steps) next = high;
        if (kept(next)) {
            out.to_mm_h = next;
            continue;
        }
        double inside = out.to_mm_h;
        for (int halving = 0; halving < 40; ++halving) {
            const double middle = 0.5 * (inside + next);
            (kept(middle) ? inside : next) = middle;
        }
        out.to_mm_h = inside;
        return out;
    }
    out.to_the_end = true;
    return out;
}

}  // namespace tipwright::calib::trial
