#include "report/tables/column_decimals.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "calib/base/rounding.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report {

namespace {

class Column {
public:
    explicit Column(double coverage) : coverage_(coverage) {}
    void add(double U) { U_.push_back(U); }
    void add(const calib::Uncertain& quantity) { add(calib::expanded(quantity, coverage_).U); }
    void add(const std::optional<calib::Uncertain>& quantity) {
        if (quantity) add(*quantity);
    }
    int decimals() const { return calib::decimals_of_column(U_); }

private:
    double coverage_;
    std::vector<double> U_;
};

}  // namespace

StepDecimals decimals_of(const std::vector<calib::StepResult>& steps, double coverage) {
    Column reference(coverage), flow(coverage), volume(coverage), sides(coverage), error(coverage);
    Column repeat_reference(coverage), repeat_volume(coverage), repeat_error(coverage);
    int set = 0;
    double least_indicated = 0;
    for (const calib::StepResult& step : steps) {
        const std::string text = significant(step.observation.set_intensity_mm_h, 4);
        if (const std::size_t point = text.find('.'); point != std::string::npos)
            set = std::max(set, static_cast<int>(text.size() - point) - 1);
        reference.add(step.reference_intensity_mm_h);
        const double indicated = step.indicated_intensity_mm_h.value_or(0);
        if (indicated > 0 && !(least_indicated > 0 && least_indicated <= indicated))
            least_indicated = indicated;
        flow.add(step.flow_mL_min);
        volume.add(step.volume_per_tip_mL);
        if (step.compartment_a_mL && step.compartment_b_mL) {
            sides.add(step.compartment_a_mL);
            sides.add(step.compartment_b_mL);
        }
        error.add(step.error_expanded.U);
        for (const calib::StepRepeat& run : step.repeats) {
            repeat_reference.add(run.reference_intensity_mm_h);
            repeat_volume.add(run.volume_per_tip_mL);
            repeat_error.add(run.error_expanded.U);
        }
    }
    constexpr int figures = 4;
    int indicated = 0;
    if (least_indicated > 0)
        indicated = std::max(reference.decimals(),
                             figures - 1 - static_cast<int>(std::floor(std::log10(least_indicated))));
    return {set,
            reference.decimals(),
            indicated,
            flow.decimals(),
            volume.decimals(),
            sides.decimals(),
            error.decimals(),
            repeat_reference.decimals(),
            repeat_volume.decimals(),
            repeat_error.decimals()};
}

CorrectionDecimals decimals_of(const calib::Correction& correction, double coverage) {
    Column depth(coverage), corrected(coverage), factor(coverage);
    for (const calib::CorrectionRow& row : correction.rows) {
        depth.add(row.depth_mm);
        corrected.add(row.corrected_intensity_mm_h);
        factor.add(row.factor_U);
    }
    return {depth.decimals(), corrected.decimals(), factor.decimals()};
}

}  // namespace tipwright::report
