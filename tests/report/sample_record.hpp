// Records for the tests of report/: whole, self-consistent, of invented gauges. The numbers follow
// v = V0 + tau Q with a small fixed scatter; no calibration mathematics is called, so that a change in calib/
// does not move the approved certificate texts.
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "calib/base/rounding.hpp"
#include "report/record/record.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::test {

struct SampleOptions {
    std::vector<double> intensities_mm_h{20, 90, 200};
    double V0_mL = 6.15;
    double tau_s = 0.32;
    double limit_percent = 5;  // 0: no limits
    calib::DecisionRule rule = calib::DecisionRule::guard_band;
    calib::RateForm chosen = calib::RateForm::line;
    bool all_candidates = false;
    bool long_names = false;
    bool no_duration = false;  // a static check
    bool monte_carlo = false;
    int repeats = 1;  // above 2: the extremes discarded
    report::Origin origin = report::Origin::virtual_bench;
    bool invented = true;
};

inline calib::BudgetComponent component(std::string id, std::string label, std::string unit, double value,
                                        double u, calib::Distribution distribution, double dof, double dlnV,
                                        double dlnv, double dlnt, double dlnA, bool shared) {
    std::string cause = shared ? id : "";
    return {std::move(id),
            std::move(label),
            std::move(unit),
            value,
            u,
            distribution,
            dof,
            dlnV,
            dlnv,
            dlnt,
            dlnA,
            std::move(cause),
            {},
            0};
}

inline std::vector<calib::BudgetComponent> sample_budget(double mass_g, double duration_s, int tips,
                                                         double area_cm2) {
    using calib::Distribution;
    const double inf = calib::infinite_dof;
    const double per_g = 1 / mass_g;
    const double hours = duration_s / 3600;
    std::vector<calib::BudgetComponent> budget{
        component("balance_resolution", "balance, resolution (two readings)", "g", 0, 0.01 / std::sqrt(6.0),
                  Distribution::rectangular, inf, per_g, 0, 0, 0, false),
        component("balance_repeatability", "balance, repeatability", "g", 0, 0.014, Distribution::student, 9,
                  per_g, 0, 0, 0, false),
        component("balance_linearity", "balance, linearity", "g", 0, 0.0115, Distribution::rectangular, inf,
                  per_g, 0, 0, 0, true),
        component("balance_calibration", "balance, calibration", "1", 1, 1e-5, Distribution::normal, inf, 1,
                  0, 0, 0, true),
        component("balance_drift", "balance, drift since calibration", "1", 1, 1.2e-5,
                  Distribution::rectangular, inf, 1, 0, 0, 0, true),
        component("balance_zero_drift", "balance, zero drift", "g", 0, 0.0115 * hours,
                  Distribution::rectangular, inf, per_g, 0, 0, 0, false),
        component("evaporation", "evaporation from the vessel", "g/h", 0.12, 0.03, Distribution::normal, 12,
                  hours * per_g, 0, 0, 0, true),
        component("residual_water", "water left between gauge and vessel", "g", 0, 0.028,
                  Distribution::normal, inf, per_g, 0, 0, 0, false),
        component("water_temperature", "water temperature", "°C", 20.4, 0.3, Distribution::normal, inf,
                  2.07e-4, 0, 0, 0, true),
        component("air_density", "air density", "kg/m³", 1.19, 0.004, Distribution::normal, inf, 8.7e-4, 0, 0,
                  0, true),
        component("tip_scatter", "repeatability of the tips", "%", 0, 1.1 / std::sqrt(tips),
                  Distribution::student, tips - 1.0, 0, 0.01, 0, 0, false),
        component("catch_area", "catch area, from its diameter", "cm²", area_cm2, 0.157, Distribution::normal,
                  15, 0, 0, 0, 1 / area_cm2, true),
    };
    if (duration_s > 0) {
        budget.push_back(component("contact_edges", "contact edges", "s", duration_s, 0.0014,
                                   Distribution::rectangular, inf, 0, 0, 1 / duration_s, 0, false));
        budget.push_back(component("time_base", "time base of the counter", "1", 1, 2e-5,
                                   Distribution::normal, inf, 0, 0, 1, 0, true));
    }
    return budget;
}

inline double k_for(double dof) {
    // t_0.95 near enough for a sample: 2 at 60 degrees of freedom, 2.57 at 5.
    return 1.959964 + 2.4 / dof + 3.0 / (dof * dof);
}

inline calib::StepResult sample_step(const SampleOptions& wish, const calib::Gauge& gauge, int number,
                                     double intensity) {
    constexpr double scatter_percent[] = {0.05, -0.08, 0.03, 0.06, -0.04, -0.02, 0.07, -0.05};
    calib::StepResult step;
    calib::StepObservation& seen = step.observation;
    const double area = gauge.catch_area_cm2().value;
    const double flow_mL_s = intensity * area / 36000;
    const double v = (wish.V0_mL + wish.tau_s * flow_mL_s) * (1 + scatter_percent[number % 8] / 100);
    seen.step = number;
    seen.set_intensity_mm_h = intensity;
    seen.tips = intensity < 5 ? 12 : intensity < 40 ? 40 : 100;
    const double volume = v * seen.tips;
    const double flow = flow_mL_s * (1 + 0.001 * ((number * 7) % 5 - 2));
    const double duration = wish.no_duration ? 0 : volume / flow;
    if (!wish.no_duration) seen.duration_s = duration;
    seen.balance_difference_g = volume * 0.99718;
    seen.balance_readings_per_edge = 6;
    seen.weighing_scatter_u_g = 0.008;
    seen.weighing = wish.no_duration           ? calib::WeighingMethod::supplied
                    : duration / seen.tips > 4 ? calib::WeighingMethod::plateau
                                               : calib::WeighingMethod::staircase;
    seen.contact_counts.assign(gauge.contacts.size(), seen.tips);
    seen.scatter = {1.1, seen.tips - 1.0, "intervals"};
    seen.compartments = calib::CompartmentBalance{0.8, 0.2, seen.tips - 2.0};
    seen.conditions = {20.2 + 0.03 * number, 21.4 - 0.05 * number, 1008.3 + 0.2 * number, 47.0 + number};
    seen.ended = wish.no_duration ? calib::CollectEnd::supplied
                 : intensity < 5  ? calib::CollectEnd::time_limit
                                  : calib::CollectEnd::target_reached;
    seen.started_s = 600.0 * number;
    if (seen.ended == calib::CollectEnd::time_limit)
        seen.remarks.push_back(
            "the collect ended at its time limit, before the uncertainty wanted was reached");

    step.air_density_kg_m3 = 1.1934;
    step.water_density_kg_m3 = 998.12;
    step.evaporated_g = 0.12 * duration / 3600;
    step.mass_g = volume * 0.99812;
    step.budget = sample_budget(step.mass_g, duration, seen.tips, area);

    double ue2 = 0, uv2 = 0, uq2 = 0, ui2 = 0, uV2 = 0, welch = 0;
    for (const calib::BudgetComponent& c : step.budget) {
        const auto square = [&](double sensitivity) { return std::pow(sensitivity * c.u, 2); };
        ue2 += square(c.relative_to_e());
        uv2 += square(c.relative_to_v());
        uq2 += square(c.relative_to_Q());
        ui2 += square(c.relative_to_I_ref());
        uV2 += square(c.dlnV);
        welch += std::pow(square(c.relative_to_e()), 2) / c.dof;
    }
    const double dof = ue2 * ue2 / welch;
    const double e = 100 * (area * gauge.nominal_tip_mm / 10 / v - 1);
    step.volume_mL = {volume, volume * std::sqrt(uV2), dof};
    step.volume_per_tip_mL = {v, v * std::sqrt(uv2), dof};
    step.error_percent = {e, (100 + e) * std::sqrt(ue2), dof};
    step.error_expanded = {k_for(dof), k_for(dof) * step.error_percent.u, 0.95};
    const double side = 0.008 * v;
    step.compartment_a_mL = calib::Uncertain{v + side, 1.3 * step.volume_per_tip_mL.u, dof / 2};
    step.compartment_b_mL = calib::Uncertain{v - side, 1.3 * step.volume_per_tip_mL.u, dof / 2};
    if (!wish.no_duration) {
        const double flow_min = 60 * flow;
        step.flow_mL_min = calib::Uncertain{flow_min, flow_min * std::sqrt(uq2), dof};
        const double reference = 600 * flow_min / area;
        step.reference_intensity_mm_h = calib::Uncertain{reference, reference * std::sqrt(ui2), dof};
        step.mean_interval_s = duration / seen.tips;
        step.indicated_intensity_mm_h = 3600 * gauge.nominal_tip_mm / *step.mean_interval_s;
    }
    return step;
}

// Runs about the step's own error, the first lowest and the last highest.
inline void give_repeats(calib::StepResult& step, int repeats) {
    for (int i = 1; i <= repeats; ++i) {
        calib::StepRepeat run{step.observation,   i > 1 && i < repeats,          step.volume_per_tip_mL,
                              step.error_percent, step.reference_intensity_mm_h, step.error_expanded};
        run.observation.repeat = i;
        const double off = 0.06 * (i - (repeats + 1) / 2.0);
        run.error_percent.value += off;
        run.volume_per_tip_mL.value *= 1 - off / 100;
        step.repeats.push_back(std::move(run));
    }
    step.observation.repeat = 0;
    step.observation.tips *= repeats - 2;
}

inline calib::RateModel sample_model(const SampleOptions& wish, const std::vector<calib::StepResult>& steps) {
    using calib::RateForm;
    calib::RateModel model;
    model.chosen = wish.chosen;
    for (const calib::StepResult& step : steps)
        model.points.push_back({step.flow_mL_min->value / 60, step.volume_per_tip_mL});
    model.flow_min_mL_s = model.points.front().flow_mL_s;
    model.flow_max_mL_s = model.points.back().flow_mL_s;
    const double dof = static_cast<double>(steps.size());
    const auto add = [&](RateForm form, std::vector<calib::Uncertain> parameters, double chi2, double limit) {
        calib::RateCandidate candidate;
        candidate.form = form;
        const std::size_t n = parameters.size();
        candidate.covariance.assign(n, std::vector<double>(n, 0.0));
        for (std::size_t i = 0; i < n; ++i)
            for (std::size_t j = 0; j < n; ++j)
                candidate.covariance[i][j] = (i == j ? 1 : -0.4) * parameters[i].u * parameters[j].u;
        candidate.parameters = std::move(parameters);
        candidate.expression = form == RateForm::line ? "v = V0 + τ Q" : calib::name_of(form);
        candidate.chi2 = chi2;
        candidate.dof = dof - static_cast<double>(n);
        candidate.chi2_limit = limit;
        candidate.passes = chi2 <= limit;
        for (std::size_t i = 0; i < steps.size(); ++i)
            candidate.residual_percent.push_back(0.05 * std::sin(1.7 * static_cast<double>(i) + chi2));
        model.candidates.push_back(std::move(candidate));
    };
    add(RateForm::constant, {{wish.V0_mL * 1.02, 0.009}}, 2314.2, 5.99);
    add(RateForm::line, {{wish.V0_mL, 0.0061}, {wish.tau_s, 0.0042}},
        wish.chosen == RateForm::line ? 1.84 : 48.3, 3.84);
    if (wish.all_candidates) {
        add(RateForm::curve, {{wish.V0_mL, 0.0078}, {wish.tau_s, 0.011}, {0.0021, 0.0043}}, 1.71, 3.84);
        add(RateForm::power, {{0.965, 0.004}, {1.021, 0.0011}}, 512.6, 3.84);
    }
    model.reason = "the simplest candidate whose residuals agree with the stated uncertainties";
    return model;
}

inline calib::Correction sample_correction(const SampleOptions& wish, const calib::Gauge& gauge,
                                           const calib::RateModel& model) {
    calib::Correction correction;
    const double area = gauge.catch_area_cm2().value;
    const double h0 = 10 * wish.V0_mL / area;
    correction.interval_min_s = wish.V0_mL / model.flow_max_mL_s + wish.tau_s;
    correction.interval_max_s = wish.V0_mL / model.flow_min_mL_s + wish.tau_s;
    correction.formula =
        "h(T) = " + std::to_string(h0) + " mm * T / (T - " + std::to_string(wish.tau_s) + " s)";
    correction.worked_example = "a tip " + std::to_string(correction.interval_min_s) +
                                " s after the one before it is worth " + std::to_string(h0) +
                                " mm and a little more";
    constexpr int rows = 12;
    for (int i = 0; i < rows; ++i) {
        const double T = correction.interval_min_s *
                         std::pow(correction.interval_max_s / correction.interval_min_s, i / (rows - 1.0));
        const double h = h0 * T / (T - wish.tau_s);
        calib::CorrectionRow row;
        row.interval_s = T;
        row.indicated_intensity_mm_h = 3600 * gauge.nominal_tip_mm / T;
        row.depth_mm = {h, 0.0009 * h, 40};
        row.corrected_intensity_mm_h = {3600 * h / T, 0.0009 * 3600 * h / T, 40};
        row.factor = h / gauge.nominal_tip_mm;
        row.factor_U = 2.02 * 0.0009 * row.factor;
        correction.rows.push_back(row);
    }
    return correction;
}

inline calib::Conformity sample_conformity(const calib::Plan& plan,
                                           const std::vector<calib::StepResult>& steps) {
    using calib::Verdict;
    calib::Conformity conformity;
    conformity.limits = plan.limits;
    conformity.rule = plan.rule;
    conformity.required_probability = plan.required_probability;
    if (plan.limits.rows.empty()) return conformity;
    conformity.overall = Verdict::pass;
    for (const calib::StepResult& step : steps) {
        calib::StepConformity judged;
        judged.step = step.observation.step;
        judged.intensity_mm_h = step.reference_intensity_mm_h ? step.reference_intensity_mm_h->value
                                                              : step.observation.set_intensity_mm_h;
        judged.low_percent = plan.limits.rows.front().low_percent;
        judged.high_percent = plan.limits.rows.front().high_percent;
        const double guard = plan.rule == calib::DecisionRule::guard_band ? step.error_expanded.U : 0;
        const double size = std::abs(step.error_percent.value);
        judged.verdict = size + guard <= judged.high_percent  ? Verdict::pass
                         : size - guard > judged.high_percent ? Verdict::fail
                                                              : Verdict::undecided;
        const double z = (judged.high_percent - size) / step.error_percent.u;
        judged.conformance_probability = 0.5 * std::erfc(-z / std::sqrt(2.0));
        judged.wrong_probability = judged.verdict == Verdict::fail ? judged.conformance_probability
                                                                   : 1 - judged.conformance_probability;
        conformity.steps.push_back(judged);
        if (judged.verdict == Verdict::fail || conformity.overall == Verdict::fail)
            conformity.overall = Verdict::fail;
        else if (judged.verdict == Verdict::undecided)
            conformity.overall = Verdict::undecided;
    }
    return conformity;
}

inline void give_long_names(report::Record& record) {
    record.laboratory = {"Høyfjellslaboratoriet for nedbørmåling og vannføring – avdeling for sporbarhet",
                         "Grensegata 12, Łąkowa Górna, 0000 Eksempelby, Norrland",
                         "Åse Ødegård-Świętosławska, kalibrering@example.org, +00 000 00 00"};
    record.customer = {
        "Примерна метеорологична служба – отдел „Валежи и водни ресурси“ (Παράδειγμα Μετεωρολογίας)",
        "ул. Дъждовна 7, Измислен град 0000; Οδός Βροχής 15, Φανταστικόν",
        "Grüße an Jürgen Größmann-Łukasiewicz, Übermäßigstraße"};
    record.place = "Arbeitsplatz 3 im Prüfraum der Außenstelle Düsterförde, Untergeschoß";
    record.identity.model =
        "Regenmesser „Wippe-200 Größe L“ με σίφωνα, редкий вариант, wersja żółta (2 kontakty)";
    record.identity.serial = "ŁØ-Ω-2024-000017/Ж-Übergangsserie-0000000042";
    record.identity.station = "Wetterstation Große Höhe-Überlingen-Łebsko, Mast 4";
    record.operator_name = "Żaneta Brzęczyszczykiewicz-Größmann";
    record.authorised_by = "Αλέξανδρος Παπαδόπουλος-Ødegård";
    record.instruments[0].description =
        "Präzisionswaage mit Feuchtraumgehäuse, Ablesbarkeit 10 mg, Höchstlast 3 kg, „Łódź“";
    record.deviations.push_back(
        "Die Wassertemperatur wurde während der Schritte 2 und 3 nur einmal abgelesen; ihre Unsicherheit "
        "wurde verdoppelt.");
    record.concessions = {
        {"balance",
         "INV-BAL-11",
         report::Nonconformity::calibration_overdue,
         "2026-02-10",
         {},
         {},
         "Ersatz bestellt."},
        {"balance", "", report::Nonconformity::check_failed, "2026-02-27", -0.034, 500, ""}};
}

inline report::Record sample_record(const SampleOptions& wish = {}) {
    using namespace tipwright::report;
    Record record;
    record.program_version = "0.1.0";
    record.number = "DEMO-2026-00042";
    record.origin = wish.no_duration ? Origin::supplied_data : wish.origin;
    record.invented = wish.invented;
    record.state = State::as_found;
    record.laboratory = {"Invented Rain Laboratory", "1 Example Lane, 00000 Nowhere",
                         "calibration@example.org"};
    record.place = "laboratory, bench 2";
    record.customer = {"Imaginary Weather Network", "7 Sample Street, 00000 Elsewhere",
                       "stations@example.org"};
    record.identity = {"siphon-200",
                       "Tipping-bucket rain gauge, 200 mm catch, siphon inlet",
                       "Example TB-200",
                       "EX-000123",
                       "clean, level bubble in order, funnel free",
                       "Example Hill",
                       "four diameters with a vernier caliper"};
    record.gauge.nominal_tip_mm = 0.2;
    record.gauge.catch_diameter_mm = {200.0, 0.05, 15};
    record.gauge.inlet = calib::Inlet::siphon;
    record.gauge.siphon_volume_mL = 12.4;
    record.gauge.contacts = {{false}, {false}};
    record.gauge.max_intensity_mm_h = 500;
    record.operator_name = "T. Technician";
    record.authorised_by = "A. Signatory";
    record.received_on = "2026-02-26";
    record.started_at = "2026-03-02T08:14:00Z";
    record.ended_at = "2026-03-02T10:51:20Z";
    record.issued_on = "2026-03-05";
    record.method =
        "Steady flows of water are passed through the gauge. The water the gauge discharges is weighed "
        "between tips, corrected for evaporation and air buoyancy, and divided by the number of tips; the "
        "reference intensity is the volume divided by the time between the first and the last tip and by "
        "the catch area (weighing after ISO 4185:1980).";
    record.instruments = {
        {"balance", "precision balance, 3 kg, 0.01 g", "BAL-01", "DEMO-CAL-7781", "2025-11-12", "2026-11-12",
         "Calibrated with weights traceable to the SI through an accredited laboratory (invented)."},
        {"counter", "counter with quartz time base", "CNT-04", "DEMO-CAL-7790", "2025-10-02", "2027-10-02",
         "Compared with a frequency standard traceable to the SI second (invented)."},
        {"thermometer", "platinum resistance thermometer", "T-11", "DEMO-CAL-7702", "2025-09-20",
         "2026-09-20", "Calibrated against a reference thermometer on ITS-90 (invented)."},
        {"pump", "peristaltic pump, delivers only; not a reference", "P-02", "", "", "", ""},
    };
    record.bench.evaporation_g_h = {0.12, 0.03, 12};
    record.plan.name = "Sample plan";
    for (double intensity : wish.intensities_mm_h)
        record.plan.steps.push_back({intensity, 40, 3600, wish.repeats});
    if (wish.repeats > 2) record.plan.repeat_rule = calib::RepeatRule::discard_extremes_mean;
    record.plan.rule = wish.rule;
    if (wish.limit_percent > 0) {
        record.plan.limits.name = "class B";
        record.plan.limits.source = "sample limits, no source";
        record.plan.limits.rows = {{0.1, 500, -wish.limit_percent, wish.limit_percent}};
    }
    int number = 0;
    for (double intensity : wish.intensities_mm_h)
        record.evaluation.steps.push_back(sample_step(wish, record.gauge, ++number, intensity));
    if (wish.repeats > 2)
        for (calib::StepResult& step : record.evaluation.steps) give_repeats(step, wish.repeats);
    if (wish.no_duration) {
        record.evaluation.no_correction = calib::NoCorrection::static_check;
        record.bench_duration_s = 0;
        record.deviations.push_back("Evaluated from a table of weighings supplied by the customer.");
    } else {
        record.evaluation.model = sample_model(wish, record.evaluation.steps);
        for (const auto& step : record.evaluation.steps)
            record.evaluation.correction_steps.push_back(step.observation.step);
        record.evaluation.correction = sample_correction(wish, record.gauge, *record.evaluation.model);
        record.bench_duration_s = 9440;
    }
    record.evaluation.conformity = sample_conformity(record.plan, record.evaluation.steps);
    for (const calib::StepResult& step : record.evaluation.steps) {
        if (!wish.monte_carlo) break;
        calib::MonteCarloCheck check;
        check.step = step.observation.step;
        check.trials = 20000;
        check.seed = 1;
        check.stable = true;
        const double e = step.error_percent.value;
        const double U = step.error_expanded.U;
        const bool confirmed = check.step != 2;
        check.error_percent = {e,
                               step.error_percent.u,
                               {e - U, e + U},
                               {e - U, e + U},
                               {0.05, confirmed ? 0.002 : 0.06, 0.001, confirmed}};
        check.volume_per_tip_mL = {step.volume_per_tip_mL.value,
                                   step.volume_per_tip_mL.u,
                                   {6, 7},
                                   {6, 7},
                                   {0.05, 0.002, 0.001, true}};
        record.evaluation.monte_carlo.push_back(check);
    }
    record.evaluation.findings = {
        calib::finding_of(calib::FindingId::compartment_a_larger, {{"percent", 1.6, 1}}, 4.2, 3.1, 0.001)};
    record.evaluation.findings.front().step = 1;
    record.source_name = wish.no_duration ? "weighings.csv" : "run-2026-03-02.journal";
    record.source_sha256 = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08";
    if (wish.long_names) give_long_names(record);
    report::state(record);
    return record;
}

// With false tips at a step, as the program finds them: nothing may be stated of it. What the record itself
// states is left as it was.
inline report::Record with_phantom_tips(report::Record record, int step) {
    calib::Finding phantom = calib::finding_of(calib::FindingId::phantom_timed,
                                               {calib::count_of("count", 33), calib::count_of("tips", 66)});
    phantom.step = step;
    record.evaluation.findings.push_back(phantom);
    return record;
}

}  // namespace tipwright::test
