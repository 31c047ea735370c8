// Fields of the evaluation part of a record: observations, step results, rate model, correction, conformity.
// See report/record/fields.hpp for how the lists are used.
#pragma once

#include "report/record/fields.hpp"

namespace tipwright::report::json {

template <class V>
void describe(V& v, Of<calib::TipScatter> auto& x) {
    v.field("sd_percent", x.sd_percent, not_negative);
    v.dof_or_unknown("dof", x.dof);
    v.field("from", x.from);
    v.field("tips_per_group", x.tips_per_group, not_negative);
    v.field("neighbours", x.neighbours, Range{-1, 1});
    v.field("neighbours_of", x.neighbours_of, not_negative);
}

template <class V>
void describe(V& v, Of<calib::CompartmentBalance> auto& x) {
    v.field("a_excess_percent", x.a_excess_percent);
    v.field("u_percent", x.u_percent, not_negative);
    v.dof_or_unknown("dof", x.dof);
}

template <class V>
void describe(V& v, Of<calib::Conditions> auto& x) {
    v.field("water_temperature_C", x.water_temperature_C, Range{0, 50});
    v.field("air_temperature_C", x.air_temperature_C, Range{-50, 60});
    v.field("air_pressure_hPa", x.air_pressure_hPa, Range{300, 1200});
    v.field("relative_humidity_percent", x.relative_humidity_percent, percent);
}

template <class V>
void describe(V& v, Of<calib::FindingNumber> auto& x) {
    v.field("name", x.name);
    v.field("value", x.value);
    v.field("decimals", x.decimals, Range{0, 12});
}

template <class V>
void describe(V& v, Of<calib::Finding> auto& x) {
    v.choice("id", x.id, calib::finding_names);
    v.field("step", x.step, Range{0, 10000});
    v.field("run", x.run, Range{0, 100});
    v.field("numbers", x.numbers);
    v.field("tips", x.tips, Range{0, 1e9});
    v.field("statistic", x.statistic);
    v.field("threshold", x.threshold);
    v.field("false_alarm_rate", x.false_alarm_rate, share);
}

template <class V>
void describe(V& v, Of<calib::Reservation> auto& x) {
    v.choice("id", x.id, calib::reservation_names);
    v.field("step", x.step, Range{0, 10000});
    v.choice("claim", x.claim, calib::claim_names);
}

template <class V>
void describe(V& v, Of<calib::StepStatement> auto& x) {
    v.field("step", x.step, Range{1, 10000});
    v.choice("result", x.result, calib::claim_names);
    v.choice("verdict", x.verdict, calib::claim_names);
    v.field("in_correction", x.in_correction);
}

template <class V>
void describe(V& v, Of<calib::Traceability> auto& x) {
    v.choice("mass", x.mass, calib::trace_names);
    v.choice("volume", x.volume, calib::trace_names);
    v.choice("time", x.time, calib::trace_names);
    v.choice("temperature", x.temperature, calib::trace_names);
    v.choice("length", x.length, calib::trace_names);
    v.field("any_certificate", x.any_certificate);
}

template <class V>
void describe(V& v, Of<calib::Statement> auto& x) {
    v.choice("document", x.document, calib::document_names);
    v.field("steps", x.steps);
    v.choice("results", x.results, calib::claim_names);
    v.choice("correction", x.correction, calib::claim_names);
    v.choice("verdict", x.verdict, calib::claim_names);
    v.field("traceability", x.traceability);
    v.field("reservations", x.reservations);
}

template <class V>
void describe(V& v, Of<Acceptance> auto& x) {
    v.field("reason", x.reason);
    v.field("by", x.by);
    v.field("on", x.on);
}

template <class V>
void describe(V& v, Of<calib::StepObservation> auto& x) {
    v.field("step", x.step, Range{1, 10000});
    v.field("repeat", x.repeat, Range{0, 100});
    v.field("set_intensity_mm_h", x.set_intensity_mm_h, not_negative);
    v.field("tips", x.tips, Range{1, 1e9});
    v.field("duration_s", x.duration_s, not_negative);
    v.field("balance_difference_g", x.balance_difference_g);
    v.field("is_volume", x.is_volume);
    v.field("balance_readings_per_edge", x.balance_readings_per_edge, Range{0, 1e9});
    v.field("weighing_scatter_u_g", x.weighing_scatter_u_g, not_negative);
    v.choice("weighing", x.weighing, weighing_names);
    v.choice("amount_by", x.amount_by, amount_by_names);
    v.field("contact_counts", x.contact_counts, Range{0, 1e9});
    v.field("scatter", x.scatter);
    v.field("compartments", x.compartments);
    v.field("conditions", x.conditions);
    v.choice("ended", x.ended, collect_end_names);
    v.field("started_s", x.started_s);
    v.field("remarks", x.remarks);
    v.field("findings", x.findings);
}

template <class V>
void describe(V& v, Of<calib::BudgetComponent> auto& x) {
    v.field("id", x.id);
    v.field("label", x.label);
    v.field("unit", x.unit);
    v.field("value", x.value);
    v.field("u", x.u, not_negative);
    v.choice("distribution", x.distribution, distribution_names);
    v.dof("dof", x.dof);
    v.field("dlnV", x.dlnV);
    v.field("dlnv", x.dlnv);
    v.field("dlnt", x.dlnt);
    v.field("dlnA", x.dlnA);
    v.field("cause", x.cause);
    v.field("estimate", x.estimate);
    v.field("at", x.at, not_negative);
}

template <class V>
void describe(V& v, Of<calib::StepRepeat> auto& x) {
    v.field("observation", x.observation);
    v.field("kept", x.kept);
    v.field("volume_per_tip_mL", x.volume_per_tip_mL);
    v.field("error_percent", x.error_percent);
    v.field("reference_intensity_mm_h", x.reference_intensity_mm_h);
    v.field("error_expanded", x.error_expanded);
}

template <class V>
void describe(V& v, Of<calib::StepResult> auto& x) {
    v.field("observation", x.observation);
    v.field("air_density_kg_m3", x.air_density_kg_m3, not_negative);
    v.field("water_density_kg_m3", x.water_density_kg_m3, not_negative);
    v.field("evaporated_g", x.evaporated_g);
    v.field("mass_g", x.mass_g);
    v.field("volume_mL", x.volume_mL);
    v.field("volume_per_tip_mL", x.volume_per_tip_mL);
    v.field("error_percent", x.error_percent);
    v.field("flow_mL_min", x.flow_mL_min);
    v.field("reference_intensity_mm_h", x.reference_intensity_mm_h);
    v.field("indicated_intensity_mm_h", x.indicated_intensity_mm_h, not_negative);
    v.field("mean_interval_s", x.mean_interval_s, not_negative);
    v.field("compartment_a_mL", x.compartment_a_mL);
    v.field("compartment_b_mL", x.compartment_b_mL);
    v.field("budget", x.budget);
    v.field("error_expanded", x.error_expanded);
    v.field("least_U_percent", x.least_U_percent, not_negative);
    v.field("repeats", x.repeats);
}

template <class V>
void describe(V& v, Of<calib::RateCandidate> auto& x) {
    v.choice("form", x.form, form_names);
    v.field("parameters", x.parameters);
    v.field("expression", x.expression);
    v.field("covariance", x.covariance);
    v.field("chi2", x.chi2);
    v.field("dof", x.dof, not_negative);
    v.field("chi2_limit", x.chi2_limit);
    v.field("passes", x.passes);
    v.field("residual_percent", x.residual_percent);
}

template <class V>
void describe(V& v, Of<calib::RatePoint> auto& x) {
    v.field("flow_mL_s", x.flow_mL_s, not_negative);
    v.field("volume_mL", x.volume_mL);
}

template <class V>
void describe(V& v, Of<calib::RateModel> auto& x) {
    v.field("candidates", x.candidates);
    v.choice("chosen", x.chosen, form_names);
    v.field("points", x.points);
    v.field("flow_min_mL_s", x.flow_min_mL_s, not_negative);
    v.field("flow_max_mL_s", x.flow_max_mL_s, not_negative);
    v.field("reason", x.reason);
}

template <class V>
void describe(V& v, Of<calib::CorrectionRow> auto& x) {
    v.field("interval_s", x.interval_s, not_negative);
    v.field("indicated_intensity_mm_h", x.indicated_intensity_mm_h, not_negative);
    v.field("depth_mm", x.depth_mm);
    v.field("corrected_intensity_mm_h", x.corrected_intensity_mm_h);
    v.field("factor", x.factor);
    v.field("factor_U", x.factor_U, not_negative);
}

template <class V>
void describe(V& v, Of<calib::Correction> auto& x) {
    v.field("formula", x.formula);
    v.field("worked_example", x.worked_example);
    v.field("rows", x.rows);
    v.field("interval_min_s", x.interval_min_s, not_negative);
    v.field("interval_max_s", x.interval_max_s, not_negative);
}

template <class V>
void describe(V& v, Of<calib::StepConformity> auto& x) {
    v.field("step", x.step, Range{1, 10000});
    v.field("intensity_mm_h", x.intensity_mm_h, not_negative);
    v.field("low_percent", x.low_percent);
    v.field("high_percent", x.high_percent);
    v.choice("verdict", x.verdict, verdict_names);
    v.field("conformance_probability", x.conformance_probability, share);
    v.field("wrong_probability", x.wrong_probability, share);
    v.field("consumer_risk", x.consumer_risk, share);
    v.field("producer_risk", x.producer_risk, share);
}

template <class V>
void describe(V& v, Of<calib::Conformity> auto& x) {
    v.field("limits", x.limits);
    v.choice("rule", x.rule, rule_names);
    v.field("guard_band_times_U", x.guard_band_times_U, not_negative);
    v.field("required_probability", x.required_probability, share);
    v.field("steps", x.steps);
    v.choice("overall", x.overall, verdict_names);
}

template <class V>
void describe(V& v, Of<calib::Interval> auto& x) {
    v.field("low", x.low);
    v.field("high", x.high);
}

template <class V>
void describe(V& v, Of<calib::GumValidation> auto& x) {
    v.field("tolerance", x.tolerance, not_negative);
    v.field("d_low", x.d_low, not_negative);
    v.field("d_high", x.d_high, not_negative);
    v.field("valid", x.valid);
}

template <class V>
void describe(V& v, Of<calib::MonteCarloFigures> auto& x) {
    v.field("mean", x.mean);
    v.field("u", x.u, not_negative);
    v.field("symmetric", x.symmetric);
    v.field("shortest", x.shortest);
    v.field("validation", x.validation);
}

template <class V>
void describe(V& v, Of<calib::MonteCarloCheck> auto& x) {
    v.field("step", x.step, Range{1, 10000});
    v.field("trials", x.trials, Range{1, 1e9});
    v.field("seed", x.seed, not_negative);
    v.field("stable", x.stable);
    v.field("significant_digits", x.significant_digits, Range{1, 2});
    v.field("error_percent", x.error_percent);
    v.field("volume_per_tip_mL", x.volume_per_tip_mL);
}

template <class V>
void describe(V& v, Of<calib::Evaluation> auto& x) {
    v.field("steps", x.steps);
    v.field("model", x.model);
    v.field("correction", x.correction);
    v.choice("no_correction", x.no_correction, calib::no_correction_names);
    v.field("correction_steps", x.correction_steps, Range{1, 10000});
    v.field("conformity", x.conformity);
    v.field("monte_carlo", x.monte_carlo);
    v.field("findings", x.findings);
}

template <class V>
void describe(V& v, Of<Party> auto& x) {
    v.field("name", x.name);
    v.field("address", x.address);
    v.field("contact", x.contact);
}

template <class V>
void describe(V& v, Of<GaugeIdentity> auto& x) {
    v.field("kind", x.kind);
    v.field("kind_title", x.kind_title);
    v.field("model", x.model);
    v.field("serial", x.serial);
    v.field("condition", x.condition);
    v.field("station", x.station);
    v.field("catch_diameter_method", x.catch_diameter_method);
}

template <class V>
void describe(V& v, Of<InstrumentUsed> auto& x) {
    v.field("role", x.role);
    v.field("description", x.description);
    v.field("serial", x.serial);
    v.field("certificate", x.certificate);
    v.field("calibrated_on", x.calibrated_on);
    v.field("due_on", x.due_on);
    v.field("traceability", x.traceability);
    v.field("issued_by", x.issued_by);
    v.field("accreditation", x.accreditation);
}

template <class V>
void describe(V& v, Of<calib::Signatory> auto& x) {
    v.field("name", x.name);
    v.field("function", x.function);
}

template <class V>
void describe(V& v, Of<calib::AgreedRule> auto& x) {
    v.choice("rule", x.rule, rule_names);
    v.field("agreed", x.agreed);
}

template <class V>
void describe(V& v, Of<calib::LaboratoryFacts> auto& x) {
    v.field("procedure", x.procedure);
    v.field("procedure_issue", x.procedure_issue);
    v.field("water", x.water);
    v.field("agreed_rule", x.agreed_rule);
    v.field("signatories", x.signatories);
}

template <class V>
void describe(V& v, Of<Concession> auto& x) {
    v.field("role", x.role);
    v.field("serial", x.serial);
    v.choice("nonconformity", x.nonconformity, lack_names);
    v.field("since", x.since);
    v.field("error_g", x.error_g);
    v.field("mass_g", x.mass_g);
    v.field("reason", x.reason);
}

// All but `format` and `version`, which the writer puts first and the reader checks before anything else.
template <class V>
void describe(V& v, Of<Record> auto& x) {
    v.field("program_version", x.program_version);
    v.field("number", x.number);
    v.choice("origin", x.origin, origin_names);
    v.field("invented", x.invented);
    v.choice("state", x.state, state_names);
    v.choice("completeness", x.completeness, completeness_names);
    v.field("end_reason", x.end_reason);
    v.field("laboratory", x.laboratory);
    v.field("laboratory_facts", x.laboratory_facts);
    v.field("place", x.place);
    v.field("customer", x.customer);
    v.field("identity", x.identity);
    v.field("gauge", x.gauge);
    v.field("operator_name", x.operator_name);
    v.field("authorised_by", x.authorised_by);
    v.field("received_on", x.received_on);
    v.field("started_at", x.started_at);
    v.field("ended_at", x.ended_at);
    v.field("issued_on", x.issued_on);
    v.field("method", x.method);
    v.field("deviations", x.deviations);
    v.field("instruments", x.instruments);
    v.field("concessions", x.concessions);
    v.field("bench", x.bench);
    v.field("plan", x.plan);
    v.field("evaluation", x.evaluation);
    v.field("findings", x.findings);
    v.field("statement", x.statement);
    v.field("acceptance", x.acceptance);
    v.field("bench_duration_s", x.bench_duration_s, not_negative);
    v.field("source_name", x.source_name);
    v.field("source_sha256", x.source_sha256);
}

}  // namespace tipwright::report::json
