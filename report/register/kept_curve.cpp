#include "report/register/kept_curve.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "calib/decision/drift.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report {
namespace {

// Next number up to a blank or semicolon; false when there is none.
bool take(std::string_view& text, double& out) {
    while (!text.empty() && (text.front() == ' ' || text.front() == ';')) text.remove_prefix(1);
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
    if (error != std::errc{}) return false;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return true;
}

}  // namespace

KeptCurve kept_curve(const Record& record) {
    KeptCurve out;
    for (const calib::StepResult& step : stated_steps(record))
        if (step.reference_intensity_mm_h)
            out.push_back(
                {step.reference_intensity_mm_h->value, step.error_percent.value, step.error_expanded.U});
    std::sort(out.begin(), out.end(),
              [](const KeptPoint& a, const KeptPoint& b) { return a.reference_mm_h < b.reference_mm_h; });
    return out;
}

std::string curve_text(const KeptCurve& curve) {
    std::string out;
    for (const KeptPoint& point : curve) {
        if (!out.empty()) out += ";";
        out += calib::fixed(point.reference_mm_h, 2) + " " + calib::fixed(point.error_percent, 3) + " " +
               calib::fixed(point.U_percent, 3);
    }
    return out;
}

KeptCurve curve_from_text(std::string_view text) {
    KeptCurve out;
    KeptPoint point;
    while (take(text, point.reference_mm_h) && take(text, point.error_percent) && take(text, point.U_percent))
        out.push_back(point);
    return out;
}

std::optional<KeptPoint> at_intensity(const KeptCurve& curve, double reference_mm_h) {
    if (curve.empty() || !(reference_mm_h >= curve.front().reference_mm_h * (1 - calib::beyond_curve)) ||
        !(reference_mm_h <= curve.back().reference_mm_h * (1 + calib::beyond_curve)))
        return std::nullopt;
    const auto above = std::find_if(curve.begin(), curve.end(), [&](const KeptPoint& point) {
        return point.reference_mm_h >= reference_mm_h;
    });
    if (above == curve.end()) return curve.back();
    if (above == curve.begin()) return curve.front();
    const KeptPoint& low = *(above - 1);
    const KeptPoint& high = *above;
    const double part =
        std::log(reference_mm_h / low.reference_mm_h) / std::log(high.reference_mm_h / low.reference_mm_h);
    return KeptPoint{reference_mm_h, low.error_percent + part * (high.error_percent - low.error_percent),
                     low.U_percent + part * (high.U_percent - low.U_percent)};
}

}  // namespace tipwright::report
