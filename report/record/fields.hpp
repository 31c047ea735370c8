// Fields of a record as they stand in JSON: one list per type, used by the writer and by the reader, so that
// the two cannot drift apart. Key order here is the order in the file. Ranges are those the reader enforces;
// templates/record.schema.json states the same ones (tests/report/record/record_schema_test.cpp compares
// them).
//
// A visitor has:  field(key, value)            plain value, struct, vector or optional (null: none)
//                 field(key, number, Range)    number within a range
//                 dof(key, number)             degrees of freedom > 0, null: infinite
//                 dof_or_unknown(key, number)  the same, 0: not known
//                 choice(key, value, names)    enumeration by name
#pragma once

#include <array>
#include <concepts>
#include <string_view>
#include <type_traits>

#include "report/record/record.hpp"

namespace tipwright::report::json {

struct Range {
    double low;
    double high;
};

inline constexpr double any_size = 1e300;
inline constexpr Range not_negative{0, any_size};
inline constexpr Range share{0, 1};
inline constexpr Range percent{0, 100};

template <class T, class Wanted>
concept Of = std::same_as<std::remove_const_t<T>, Wanted>;

// Names of an enumeration, in the order of its values.
inline constexpr std::array state_names{std::string_view("as_found"), std::string_view("as_left")};
inline constexpr std::array origin_names{std::string_view("real_bench"), std::string_view("virtual_bench"),
                                         std::string_view("supplied_data")};
inline constexpr std::array completeness_names{std::string_view("complete"), std::string_view("incomplete")};
inline constexpr std::array inlet_names{std::string_view("straight"), std::string_view("siphon")};
inline constexpr std::array weighing_names{std::string_view("plateau"), std::string_view("staircase"),
                                           std::string_view("supplied")};
inline constexpr std::array amount_by_names{std::string_view("one_difference"), std::string_view("each_tip"),
                                            std::string_view("chained")};
inline constexpr std::array collect_end_names{std::string_view("target_reached"),
                                              std::string_view("time_limit"), std::string_view("vessel_full"),
                                              std::string_view("supplied")};
inline constexpr std::array distribution_names{std::string_view("normal"), std::string_view("rectangular"),
                                               std::string_view("triangular"), std::string_view("student")};
inline constexpr std::array form_names{std::string_view("constant"), std::string_view("line"),
                                       std::string_view("curve"), std::string_view("power"),
                                       std::string_view("table")};
inline constexpr std::array rule_names{std::string_view("simple_acceptance"), std::string_view("guard_band"),
                                       std::string_view("conformance_probability")};
inline constexpr std::array verdict_names{std::string_view("pass"), std::string_view("fail"),
                                          std::string_view("undecided"), std::string_view("no_limit"),
                                          std::string_view("not_stated")};

inline constexpr std::array lack_names{std::string_view("calibration_overdue"),
                                       std::string_view("check_failed")};

inline constexpr std::array repeat_rule_names{std::string_view("mean"),
                                              std::string_view("discard_extremes_mean")};

template <class V>
void describe(V& v, Of<calib::Uncertain> auto& x) {
    v.field("value", x.value);
    v.field("u", x.u, not_negative);
    v.dof("dof", x.dof);
}

template <class V>
void describe(V& v, Of<calib::Expanded> auto& x) {
    v.field("k", x.k, not_negative);
    v.field("U", x.U, not_negative);
    v.field("coverage", x.coverage, share);
}

template <class V>
void describe(V& v, Of<calib::Contact> auto& x) {
    v.field("normally_closed", x.normally_closed);
}

template <class V>
void describe(V& v, Of<calib::Gauge> auto& x) {
    v.field("nominal_tip_mm", x.nominal_tip_mm, Range{0.01, 2});
    v.field("catch_diameter_mm", x.catch_diameter_mm);
    v.field("compartments", x.compartments, Range{1, 2});
    v.choice("inlet", x.inlet, inlet_names);
    v.field("siphon_volume_mL", x.siphon_volume_mL, not_negative);
    v.field("siphon_tail_percent", x.siphon_tail_percent, not_negative);
    v.field("contacts", x.contacts);
    v.field("debounce_s", x.debounce_s, not_negative);
    v.field("max_intensity_mm_h", x.max_intensity_mm_h, not_negative);
}

template <class V>
void describe(V& v, Of<calib::BalanceMetrology> auto& x) {
    v.field("resolution_g", x.resolution_g, not_negative);
    v.field("repeatability_g", x.repeatability_g, not_negative);
    v.dof("repeatability_dof", x.repeatability_dof);
    v.field("linearity_half_width_g", x.linearity_half_width_g, not_negative);
    v.field("calibration_relative_u", x.calibration_relative_u, not_negative);
    v.field("drift_relative_half_width", x.drift_relative_half_width, not_negative);
    v.field("zero_drift_half_width_g_h", x.zero_drift_half_width_g_h, not_negative);
    v.field("capacity_g", x.capacity_g, not_negative);
}

template <class V>
void describe(V& v, Of<calib::CapabilityPoint> auto& x) {
    v.field("intensity_mm_h", x.intensity_mm_h, not_negative);
    v.field("U_percent", x.U_percent, not_negative);
}

template <class V>
void describe(V& v, Of<calib::PermittedRange> auto& x) {
    v.field("low", x.low);
    v.field("high", x.high);
}

template <class V>
void describe(V& v, Of<calib::EnvironmentLimits> auto& x) {
    v.field("water_temperature_C", x.water_temperature_C);
    v.field("air_temperature_C", x.air_temperature_C);
    v.field("air_pressure_hPa", x.air_pressure_hPa);
    v.field("relative_humidity_percent", x.relative_humidity_percent);
}

template <class V>
void describe(V& v, Of<calib::BenchMetrology> auto& x) {
    v.field("balance", x.balance);
    v.field("evaporation_g_h", x.evaporation_g_h);
    v.field("residual_u_g", x.residual_u_g, not_negative);
    v.field("discharge_lag_s", x.discharge_lag_s, not_negative);
    v.field("discharge_delay_s", x.discharge_delay_s, not_negative);
    v.field("clock_relative_u", x.clock_relative_u, not_negative);
    v.field("edge_time_u_s", x.edge_time_u_s, not_negative);
    v.field("water_temperature_u_C", x.water_temperature_u_C, not_negative);
    v.field("air_temperature_u_C", x.air_temperature_u_C, not_negative);
    v.field("air_pressure_u_hPa", x.air_pressure_u_hPa, not_negative);
    v.field("relative_humidity_u_percent", x.relative_humidity_u_percent, not_negative);
    v.field("water_allowance_kg_m3", x.water_allowance_kg_m3, not_negative);
    v.field("capability", x.capability);
    v.field("environment", x.environment);
}

template <class V>
void describe(V& v, Of<calib::PlanStep> auto& x) {
    v.field("intensity_mm_h", x.intensity_mm_h, not_negative);
    v.field("min_tips", x.min_tips, Range{0, 1e6});
    v.field("time_limit_s", x.time_limit_s, not_negative);
    v.field("repeats", x.repeats, Range{1, 100});
}

template <class V>
void describe(V& v, Of<calib::LimitRow> auto& x) {
    v.field("from_mm_h", x.from_mm_h, not_negative);
    v.field("to_mm_h", x.to_mm_h, not_negative);
    v.field("low_percent", x.low_percent);
    v.field("high_percent", x.high_percent);
}

template <class V>
void describe(V& v, Of<calib::GaugePopulation> auto& x) {
    v.field("mean_percent", x.mean_percent);
    v.field("sd_percent", x.sd_percent, not_negative);
    v.field("source", x.source);
}

template <class V>
void describe(V& v, Of<calib::Limits> auto& x) {
    v.field("name", x.name);
    v.field("source", x.source);
    v.field("rows", x.rows);
    v.field("confirmed", x.confirmed);
    v.field("population", x.population);
}

template <class V>
void describe(V& v, Of<calib::Plan> auto& x) {
    v.field("name", x.name);
    v.field("steps", x.steps);
    v.choice("repeat_rule", x.repeat_rule, repeat_rule_names);
    v.field("target_U_percent", x.target_U_percent, not_negative);
    v.field("coverage", x.coverage, share);
    v.field("wetting_intensity_mm_h", x.wetting_intensity_mm_h, not_negative);
    v.field("wetting_tips", x.wetting_tips, Range{0, 1e6});
    v.field("settle_tips", x.settle_tips, Range{0, 1e6});
    v.field("settle_s", x.settle_s, not_negative);
    v.field("limits", x.limits);
    v.choice("rule", x.rule, rule_names);
    v.field("guard_band_times_U", x.guard_band_times_U, not_negative);
    v.field("required_probability", x.required_probability, share);
}

}  // namespace tipwright::report::json
