#include <algorithm>
#include <cmath>

#include "bench/supplied/forms.hpp"

namespace tipwright::bench {
namespace {

constexpr NumberRange any_mass_g{-1e6, 1e6, "g"};
constexpr double step_amount_max = 1e6;  // g or mL in one step

}  // namespace

const std::vector<std::string>& common_columns() {
    static const std::vector<std::string> columns{"step",
                                                  "set_intensity_mm_h",
                                                  "set_flow_mL_min",
                                                  "water_temperature_C",
                                                  "air_temperature_C",
                                                  "air_pressure_hPa",
                                                  "relative_humidity_percent",
                                                  "before_g",
                                                  "after_g",
                                                  "volume_mL",
                                                  "remark"};
    return columns;
}

calib::Conditions conditions_in(Table& table, std::size_t row, const calib::Conditions& otherwise) {
    calib::Conditions out = otherwise;
    out.water_temperature_C =
        table.number(row, "water_temperature_C", {0, 50, "degC"}).value_or(out.water_temperature_C);
    out.air_temperature_C =
        table.number(row, "air_temperature_C", {0, 50, "degC"}).value_or(out.air_temperature_C);
    out.air_pressure_hPa =
        table.number(row, "air_pressure_hPa", {500, 1100, "hPa"}).value_or(out.air_pressure_hPa);
    out.relative_humidity_percent =
        table.number(row, "relative_humidity_percent", {0, 100, "%"}).value_or(out.relative_humidity_percent);
    return out;
}

double set_intensity_in(Table& table, std::size_t row, const calib::Gauge& gauge) {
    if (const auto intensity = table.number(row, "set_intensity_mm_h", {0.01, 5000, "mm/h"}))
        return *intensity;
    if (const auto flow = table.number(row, "set_flow_mL_min", {0.001, 100000, "mL/min"}))
        return calib::intensity_mm_h(*flow, gauge.catch_area_cm2().value);
    return 0;
}

std::optional<double> released_g(Table& table, std::size_t row, const FormInput& input, FaultList& faults) {
    const auto before = table.number(row, "before_g", any_mass_g);
    const auto after = table.number(row, "after_g", any_mass_g);
    if (before.has_value() != after.has_value()) {
        faults.add(FaultCode::missing_field, table.row_at(row), "only one of before_g and after_g is given",
                   "give both");
        return std::nullopt;
    }
    if (!before) return std::nullopt;
    if (input.weighs == Weighs::not_stated) {
        faults.add(FaultCode::missing_field, table.header_at(),
                   "before_g and after_g are given, but not what stands on the balance",
                   "add a line \"# balance.weighs = vessel\", or gauge, or supply");
        return std::nullopt;
    }
    const double released = input.weighs == Weighs::vessel ? *after - *before : *before - *after;
    if (!(released > 0)) {
        faults.add(FaultCode::bad_value, table.at(row, "before_g"),
                   "before_g " + shortest(*before) + " and after_g " + shortest(*after) +
                       " make a released mass of " + shortest(std::round(released * 1e6) / 1e6) + " g",
                   "check the row, and balance.weighs");
        return std::nullopt;
    }
    return released;
}

void check_plausible(const Table& table, std::size_t row, const calib::StepObservation& step,
                     const calib::Gauge& gauge, FaultList& faults) {
    const double per_tip = step.balance_difference_g / step.tips;
    const double ratio = per_tip / gauge.nominal_tip_mL();
    // No gauge is off by so much; a unit is.
    if (!(ratio > 0.2 && ratio < 5)) {
        faults.add(FaultCode::inconsistent, table.row_at(row),
                   "a tip has " + shortest(std::round(per_tip * 1e4) / 1e4) +
                       (step.is_volume ? " mL" : " g") + ", but nominal tip and catch diameter make " +
                       shortest(std::round(gauge.nominal_tip_mL() * 1e3) / 1e3) + " mL",
                   "check units, tips and the gauge's lines");
        return;
    }
    if (!step.duration_s || step.set_intensity_mm_h == 0) return;
    const double flow = step.balance_difference_g / *step.duration_s * 60;
    const double intensity = calib::intensity_mm_h(flow, gauge.catch_area_cm2().value);
    if (!(intensity > step.set_intensity_mm_h / 3 && intensity < step.set_intensity_mm_h * 3))
        faults.add(FaultCode::inconsistent, table.row_at(row),
                   "amount and duration make " + shortest(std::round(intensity * 10) / 10) +
                       " mm/h, but the set rate is " +
                       shortest(std::round(step.set_intensity_mm_h * 10) / 10) + " mm/h",
                   "check units: duration in s, flow in mL/min");
}

void read_per_step(Table& table, const FormInput& input, SuppliedMeasurements& out, FaultList& faults) {
    std::vector<std::string> known = common_columns();
    known.insert(known.end(),
                 {"tips", "duration_s", "mass_g", "contact_1_tips", "contact_2_tips", "tip_sd_percent"});
    table.finish(known);
    table.require_one_of({"tips"});
    table.require_one_of({"mass_g", "volume_mL", "before_g"});
    for (std::size_t row = 0; row < table.rows() && faults.size() < faults_enough; ++row) {
        const std::size_t faults_before = faults.size();
        calib::StepObservation step;
        step.step = table.has("step") ? table.whole_number(row, "step", 1, 10000, true).value_or(1)
                                      : static_cast<int>(row) + 1;
        step.weighing = calib::WeighingMethod::supplied;
        step.ended = calib::CollectEnd::supplied;
        step.set_intensity_mm_h = set_intensity_in(table, row, input.gauge);
        step.tips = table.whole_number(row, "tips", 1, 1000000, true).value_or(1);
        step.duration_s = table.number(row, "duration_s", {0.1, 1e7, "s"});
        step.conditions = conditions_in(table, row, input.conditions);
        step.is_volume = table.has("volume_mL");
        std::optional<double> amount;
        if (step.is_volume)
            amount = table.number(row, "volume_mL", {1e-6, step_amount_max, "mL"}, true);
        else if (table.has("mass_g"))
            amount = table.number(row, "mass_g", {1e-6, step_amount_max, "g"}, true);
        else
            amount = released_g(table, row, input, faults);
        for (const char* contact : {"contact_1_tips", "contact_2_tips"})
            if (const auto count = table.whole_number(row, contact, 0, 1000000))
                step.contact_counts.push_back(*count);
        if (const auto sd = table.number(row, "tip_sd_percent", {0, 100, "%"})) {
            const int dof = step.tips - input.gauge.compartments;
            if (dof > 0) step.scatter = {*sd, static_cast<double>(dof), "as supplied"};
        }
        if (std::string remark = table.text(row, "remark"); !remark.empty())
            step.remarks.push_back(std::move(remark));
        const auto same =
            std::find_if(out.observations.begin(), out.observations.end(),
                         [&](const calib::StepObservation& other) { return other.step == step.step; });
        if (faults.size() == faults_before && same != out.observations.end())
            faults.add(FaultCode::duplicate, table.at(row, "step"),
                       "step " + std::to_string(step.step) + " is there twice",
                       "number the steps 1, 2, 3, ...");
        if (faults.size() == faults_before && !amount)
            faults.add(FaultCode::missing_field, table.row_at(row), "before_g and after_g are empty",
                       "write both, or leave the row out");
        if (faults.size() != faults_before) continue;
        step.balance_difference_g = *amount;
        check_plausible(table, row, step, input.gauge, faults);
        out.observations.push_back(std::move(step));
    }
}

}  // namespace tipwright::bench
