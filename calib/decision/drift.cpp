#include "calib/decision/drift.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/linear_fit.hpp"

namespace tipwright::calib {

namespace {

// Found minus left; without parts each end is a cause of its own.
Contributions parts_of_change(const ServiceStretch& stretch, std::size_t number) {
    Contributions parts = stretch.found_parts;
    const std::string own = "stretch " + std::to_string(number + 1);
    if (parts.empty())
        parts.push_back({own + ", found", "", stretch.found_percent.u, stretch.found_percent.dof, 0});
    if (stretch.left_parts.empty())
        parts.push_back({own + ", left", "", -stretch.left_percent.u, stretch.left_percent.dof, 0});
    add_scaled(parts, stretch.left_parts, -1);
    return parts;
}

double fewest_dof(const std::vector<Contributions>& changes) {
    double fewest = infinite_dof;
    for (const Contributions& change : changes) fewest = std::min(fewest, combined(0, change).dof);
    return fewest;
}

// Of the drift, from all that makes the changes' uncertainties: it is a sum of the changes, each with the
// weight that the fit gives to a change of 1 there alone. A fit for each: stretches of service are few.
Result<double> drift_dof(const Design& design, const std::vector<Contributions>& changes,
                         const SquareMatrix& of_changes) {
    Contributions parts;
    for (std::size_t i = 0; i < changes.size(); ++i) {
        std::vector<double> one(changes.size(), 0);
        one[i] = 1;
        const auto weight = fit_linear(design, one, of_changes);
        if (!weight) return weight.fault();
        add_scaled(parts, changes[i], weight->parameters[0]);
    }
    return combined(0, parts).dof;
}

}  // namespace

Result<DriftPerYear> drift_per_year(const std::vector<ServiceStretch>& stretches, double coverage) {
    if (stretches.empty()) {
        return Fault{FaultCode::too_few_points, "no stretch of service between two calibrations", "drift",
                     "a drift needs a result as left and a later one as found"};
    }
    Design design{stretches.size(), 1, {}};
    std::vector<double> change;
    SquareMatrix of_changes(stretches.size());
    std::vector<Contributions> parts(stretches.size());
    for (std::size_t i = 0; i < stretches.size(); ++i) {
        const ServiceStretch& stretch = stretches[i];
        const double years = stretch.to_years - stretch.from_years;
        if (!(years > 0) || !std::isfinite(years)) {
            return Fault{FaultCode::bad_value, "ends " + fixed(years, 2) + " years after it began",
                         "stretch " + std::to_string(i + 1), "check the dates"};
        }
        if (!(stretch.left_percent.u >= 0 && stretch.found_percent.u >= 0)) {
            return Fault{FaultCode::not_finite,
                         "an uncertainty is not a number",
                         "stretch " + std::to_string(i + 1),
                         {}};
        }
        design.values.push_back(years);
        change.push_back(stretch.found_percent.value - stretch.left_percent.value);
        parts[i] = parts_of_change(stretch, i);
        for (std::size_t j = 0; j <= i; ++j)
            of_changes(i, j) = of_changes(j, i) = covariance(parts[i], parts[j]);
    }
    const auto fit = fit_linear(design, change, of_changes);
    if (!fit) {
        Fault fault = fit.fault();
        if (fault.where.starts_with("point")) fault.where.replace(0, 5, "stretch");
        return fault;
    }
    DriftPerYear drift;
    drift.stretches = static_cast<int>(stretches.size());
    const auto dof = drift_dof(design, parts, of_changes);
    if (!dof) return dof.fault();
    drift.percent_per_year = {fit->parameters[0], std::sqrt(fit->covariance(0, 0)), *dof};
    drift.chi2 = fit->chi2;
    drift.dof = fit->dof;
    if (fit->dof > 0 && fit->chi2 / fit->dof > fisher_quantile(0.95, fit->dof, fewest_dof(parts))) {
        drift.consistent = false;
        drift.widened = true;
        drift.percent_per_year.u *= std::sqrt(fit->chi2 / fit->dof);
        drift.percent_per_year.dof = fit->dof;
    }
    drift.U_percent_per_year = expanded(drift.percent_per_year, coverage).U;
    drift.significant = std::fabs(drift.percent_per_year.value) > drift.U_percent_per_year;
    return drift;
}

namespace {

bool reaches(const ErrorCurve& curve, double intensity_mm_h) {
    const auto& x = curve.errors.points.x;
    return intensity_mm_h >= x.front() * (1 - beyond_curve) &&
           intensity_mm_h <= x.back() * (1 + beyond_curve);
}

// Adds the curve's error, times a factor, and what makes its uncertainty.
bool add_error(const ErrorCurve& curve, double intensity_mm_h, double factor, double& percent,
               Contributions& parts) {
    if (!reaches(curve, intensity_mm_h)) return false;
    const auto& x = curve.errors.points.x;
    const double at_mm_h = std::clamp(intensity_mm_h, x.front(), x.back());
    const auto error = error_at(curve, at_mm_h);
    if (!error) return false;
    percent += factor * error->value;
    add_scaled(parts, parts_at(curve, at_mm_h), factor);
    return true;
}

}  // namespace

std::optional<LargestDrift> largest_drift(const std::vector<CurveStretch>& stretches) {
    std::optional<LargestDrift> out;
    if (stretches.empty()) return out;
    for (const double intensity_mm_h : stretches.front().found.errors.points.x) {
        double moved = 0;
        Contributions parts;
        const CurveStretch* reached = nullptr;
        for (const CurveStretch& stretch : stretches) {
            double percent = 0;
            Contributions own;
            if (!add_error(stretch.found, intensity_mm_h, 1, percent, own) ||
                !add_error(stretch.left, intensity_mm_h, -1, percent, own))
                break;
            moved += percent;
            add_scaled(parts, own, 1);
            reached = &stretch;
        }
        if (reached == nullptr || (out && std::abs(moved) <= std::abs(out->percent))) continue;
        const double U = expanded(combined(moved, parts), default_coverage).U;
        out = LargestDrift{moved, U > 0 ? moved / U : 0, intensity_mm_h, reached->since};
    }
    return out;
}

}  // namespace tipwright::calib
