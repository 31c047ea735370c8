#include "report/register/error_curve.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "calib/base/rounding.hpp"

namespace tipwright::report {
namespace {

constexpr double beyond_range = 0.05;

// Next number up to a blank or semicolon; false when there is none.
bool take(std::string_view& text, double& out) {
    while (!text.empty() && (text.front() == ' ' || text.front() == ';')) text.remove_prefix(1);
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
    if (error != std::errc{}) return false;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return true;
}

}  // namespace

ErrorCurve error_curve(const calib::Evaluation& evaluation) {
    ErrorCurve out;
    for (const calib::StepResult& step : evaluation.steps)
        if (step.reference_intensity_mm_h)
            out.push_back(
                {step.reference_intensity_mm_h->value, step.error_percent.value, step.error_expanded.U});
    std::sort(out.begin(), out.end(),
              [](const ErrorPoint& a, const ErrorPoint& b) { return a.reference_mm_h < b.reference_mm_h; });
    return out;
}

std::string curve_text(const ErrorCurve& curve) {
    std::string out;
    for (const ErrorPoint& point : curve) {
        if (!out.empty()) out += ";";
        out += calib::fixed(point.reference_mm_h, 2) + " " + calib::fixed(point.error_percent, 3) + " " +
               calib::fixed(point.U_percent, 3);
    }
    return out;
}

ErrorCurve curve_from_text(std::string_view text) {
    ErrorCurve out;
    ErrorPoint point;
    while (take(text, point.reference_mm_h) && take(text, point.error_percent) && take(text, point.U_percent))
        out.push_back(point);
    return out;
}

std::optional<ErrorPoint> at_intensity(const ErrorCurve& curve, double reference_mm_h) {
    if (curve.empty() || !(reference_mm_h >= curve.front().reference_mm_h * (1 - beyond_range)) ||
        !(reference_mm_h <= curve.back().reference_mm_h * (1 + beyond_range)))
        return std::nullopt;
    const auto above = std::find_if(curve.begin(), curve.end(), [&](const ErrorPoint& point) {
        return point.reference_mm_h >= reference_mm_h;
    });
    if (above == curve.end()) return curve.back();
    if (above == curve.begin()) return curve.front();
    const ErrorPoint& low = *(above - 1);
    const ErrorPoint& high = *above;
    const double part =
        std::log(reference_mm_h / low.reference_mm_h) / std::log(high.reference_mm_h / low.reference_mm_h);
    return ErrorPoint{reference_mm_h, low.error_percent + part * (high.error_percent - low.error_percent),
                      low.U_percent + part * (high.U_percent - low.U_percent)};
}

std::optional<Drift> drift_between(const ErrorCurve& earlier, const ErrorCurve& later,
                                   const std::string& since) {
    std::optional<Drift> out;
    for (const ErrorPoint& point : later) {
        const std::optional<ErrorPoint> before = at_intensity(earlier, point.reference_mm_h);
        if (!before) continue;
        const double moved = point.error_percent - before->error_percent;
        const double U = std::hypot(point.U_percent, before->U_percent);
        if (!out || std::abs(moved) > std::abs(out->percent))
            out = Drift{moved, U > 0 ? moved / U : 0, point.reference_mm_h, since};
    }
    return out;
}

}  // namespace tipwright::report
