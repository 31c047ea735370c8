#include "report/register/drift.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/dates.hpp"
#include "calib/statistics/contributions.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/dates.hpp"
#include "report/register/kept_curve.hpp"

namespace tipwright::report {

namespace {

bool reaches(const calib::ErrorCurve& curve, double intensity_mm_h) {
    const auto& x = curve.errors.points.x;
    return intensity_mm_h >= x.front() * (1 - beyond_curve) &&
           intensity_mm_h <= x.back() * (1 + beyond_curve);
}

// Adds the curve's error, times a factor, and what makes its uncertainty.
bool add_error(const calib::ErrorCurve& curve, double intensity_mm_h, double factor, double& percent,
               calib::Contributions& parts) {
    if (!reaches(curve, intensity_mm_h)) return false;
    const auto& x = curve.errors.points.x;
    const double at_mm_h = std::clamp(intensity_mm_h, x.front(), x.back());
    const auto error = calib::error_at(curve, at_mm_h);
    if (!error) return false;
    percent += factor * error->value;
    calib::add_scaled(parts, calib::parts_at(curve, at_mm_h), factor);
    return true;
}

}  // namespace

std::optional<calib::ErrorCurve> stated_curve(const Record& record) {
    const std::string day = (record.ended_at.empty() ? record.started_at : record.ended_at).substr(0, 10);
    const double years = static_cast<double>(day_number(day)) / days_in_a_year;
    auto curve = calib::error_curve(record.identity.serial + " " + record.started_at, years,
                                    stated_steps(record), record.source_sha256);
    if (!curve || curve->at_rest) return std::nullopt;
    return std::move(*curve);
}

std::optional<Drift> drift_over(const std::vector<Stretch>& stretches) {
    std::optional<Drift> out;
    if (stretches.empty()) return out;
    for (const double intensity_mm_h : stretches.front().found.errors.points.x) {
        double moved = 0;
        calib::Contributions parts;
        const Stretch* reached = nullptr;
        for (const Stretch& stretch : stretches) {
            double percent = 0;
            calib::Contributions own;
            if (!add_error(stretch.found, intensity_mm_h, 1, percent, own) ||
                !add_error(stretch.left, intensity_mm_h, -1, percent, own))
                break;
            moved += percent;
            calib::add_scaled(parts, own, 1);
            reached = &stretch;
        }
        if (reached == nullptr || (out && std::abs(moved) <= std::abs(out->percent))) continue;
        const double U = calib::expanded(calib::combined(moved, parts), calib::default_coverage).U;
        out = Drift{moved, U > 0 ? moved / U : 0, intensity_mm_h, reached->since};
    }
    return out;
}

}  // namespace tipwright::report
