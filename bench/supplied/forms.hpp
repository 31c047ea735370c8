// The two forms of a supplied table. Internal to this folder.
#pragma once

#include "bench/descriptions/reading.hpp"
#include "bench/supplied/supplied.hpp"
#include "bench/supplied/table.hpp"

namespace tipwright::bench {

// Which way a balance reading goes when the gauge discharges.
enum class Weighs { not_stated, vessel, gauge, supply };

struct FormInput {
    const calib::Gauge& gauge;
    calib::Conditions conditions;  // for cells that do not say otherwise
    Weighs weighs = Weighs::not_stated;
    double resolution_g = 0;
};

// Both fill observations and plan.steps; read_per_tip also tips.
void read_per_step(Table& table, const FormInput& input, SuppliedMeasurements& out, FaultList& faults);
void read_per_tip(Table& table, const FormInput& input, SuppliedMeasurements& out, FaultList& faults);

// Columns that both forms know: step, set rate, conditions.
const std::vector<std::string>& common_columns();
calib::Conditions conditions_in(Table& table, std::size_t row, const calib::Conditions& otherwise);
// From set_intensity_mm_h or set_flow_mL_min; 0 when neither is there.
double set_intensity_in(Table& table, std::size_t row, const calib::Gauge& gauge);
// What the balance shows for water that the gauge released: positive.
std::optional<double> released_g(Table& table, std::size_t row, const FormInput& input, FaultList& faults);
// Whether tips, amount and duration can belong together; notes a fault at the row.
void check_plausible(const Table& table, std::size_t row, const calib::StepObservation& step,
                     const calib::Gauge& gauge, FaultList& faults);

}  // namespace tipwright::bench
