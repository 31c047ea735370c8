// dcc:measurementResults: for each state of the gauge its methods, instruments, conditions and results.
#include <algorithm>
#include <cmath>
#include <functional>

#include "calib/base/rounding.hpp"
#include "report/certificate/correction_words.hpp"
#include "report/certificate/facts_words.hpp"
#include "report/certificate/method_words.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/dcc/parts.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/column_decimals.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report::dcc {

namespace {

using calib::StepResult;
using calib::Verdict;

bool is_timed(const Record& record) {
    return std::all_of(record.evaluation.steps.begin(), record.evaluation.steps.end(),
                       [](const StepResult& step) {
                           return step.reference_intensity_mm_h && step.indicated_intensity_mm_h &&
                                  step.observation.duration_s;
                       });
}

void write_methods(Writer& writer, const Record& record) {
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    const bool timed = is_timed(record);
    xml.open("dcc:usedMethods");
    xml.open("dcc:usedMethod", {{"refType", "basic_calibrationMethod"}});
    writer.name("dcc:name", words.text(timed ? "dcc.method" : "dcc.method_static"));
    xml.open("dcc:description");
    if (const std::string method = certificate::method_words(record, words); !method.empty())
        xml.text("dcc:content", method);
    for (const std::string& deviation : certificate::deviations_words(record, words))
        xml.text("dcc:content", deviation);
    xml.open("dcc:formula");
    xml.text("dcc:latex",
             timed ? "e = \\frac{I_\\mathrm{ind}}{I_\\mathrm{ref}} - 1 = \\frac{A\\,h_\\mathrm{n}}{v} - 1"
                   : "e = \\frac{A\\,h_\\mathrm{n}}{v} - 1");
    xml.close();
    xml.close();
    // Flying start and finish: of work that was timed, and known to have been done so.
    if (timed && record.origin != Origin::supplied_data) xml.text("dcc:norm", "ISO 4185:1980");
    writer.line("dcc:reference", certificate::procedure_words(words, record));
    xml.close();
    xml.open("dcc:usedMethod", {{"refType", "basic_methodMeasurementUncertainty"}});
    writer.name("dcc:name", words.text("dcc.uncertainty_method"));
    xml.text("dcc:norm", "JCGM 100:2008");
    xml.close();
    xml.close();
}

void write_instruments(Writer& writer, const Record& record) {
    if (record.instruments.empty()) return;
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    xml.open("dcc:measuringEquipments");
    for (const InstrumentUsed& used : record.instruments) {
        xml.open("dcc:measuringEquipment", {{"refType", used.certificate.empty() ? "" : "basic_normalUsed"}});
        writer.name("dcc:name", words.named("role", used.role, used.role));
        std::string description = used.description;
        const auto add_date = [&](const char* label, const std::string& date) {
            if (!date.empty())
                description += (description.empty() ? "" : "\n") + words.text(label) + ": " + date;
        };
        const auto add_line = [&](const std::string& text) {
            if (!text.empty()) description += (description.empty() ? "" : "\n") + text;
        };
        if (const std::string issuer = certificate::issuer_words(words, used); !issuer.empty())
            add_line(words.text("instruments.certificate") + " " + used.certificate + ", " + issuer);
        add_date("instruments.calibrated", used.calibrated_on);
        add_date("instruments.due", used.due_on);
        add_line(traceability_said(used));
        if (!description.empty()) writer.foreign("dcc:description", description);
        const std::string serial = trimmed(used.serial);
        const std::string certificate = trimmed(used.certificate);
        if (!serial.empty() || !certificate.empty()) {
            xml.open("dcc:identifications");
            const auto identify = [&](const std::string& value, std::string_view ref_type,
                                      const std::string& label, std::string_view issuer) {
                if (value.empty()) return;
                xml.open("dcc:identification", {{"refType", ref_type}});
                xml.text("dcc:issuer", issuer);
                xml.text("dcc:value", value);
                writer.name("dcc:name", label);
                xml.close();
            };
            identify(serial, "basic_serialNumber", words.text("front.serial"), "manufacturer");
            identify(certificate, "", words.text("dcc.certificate"), "other");
            xml.close();
        }
        xml.close();
    }
    xml.close();
}

void write_condition(Writer& writer, const Record& record, const char* name_key, std::string_view ref_type,
                     std::string_view unit, double calib::Conditions::*member, double u,
                     std::string_view status) {
    Column column;
    column.unit = unit;
    for (const StepResult& step : record.evaluation.steps)
        add(column, step.observation.conditions.*member, {2, 2 * u, 0.95});
    XmlWriter& xml = writer.xml;
    xml.open("dcc:influenceCondition", {{"refType", ref_type}});
    writer.name("dcc:name", writer.words().text(name_key));
    if (!status.empty()) xml.text("dcc:status", status);
    xml.open("dcc:data");
    xml.open("dcc:quantity");
    write_list(writer, column);
    xml.close();
    xml.close();
    xml.close();
}

void write_conditions(Writer& writer, const Record& record) {
    const calib::BenchMetrology& bench = record.bench;
    const bool adjusted = writer.options.as_found || record.state == State::as_left;
    const std::string_view status = !adjusted                         ? ""
                                    : record.state == State::as_found ? "beforeAdjustment"
                                                                      : "afterAdjustment";
    writer.xml.open("dcc:influenceConditions");
    write_condition(writer, record, "conditions.water", "", "\\degreecelsius",
                    &calib::Conditions::water_temperature_C, bench.water_temperature_u_C, status);
    write_condition(writer, record, "conditions.air", "basic_temperature", "\\degreecelsius",
                    &calib::Conditions::air_temperature_C, bench.air_temperature_u_C, status);
    write_condition(writer, record, "conditions.pressure", "", "\\hecto\\pascal",
                    &calib::Conditions::air_pressure_hPa, bench.air_pressure_u_hPa, status);
    write_condition(writer, record, "conditions.humidity", "basic_humidityRelative", "\\percent",
                    &calib::Conditions::relative_humidity_percent, bench.relative_humidity_u_percent, status);
    writer.xml.close();
}

// Limits and verdicts of the error: one list when every step has limits, else one entry for each that has.
void write_verdicts(Writer& writer, const Record& record, const char* statement) {
    const auto& judged = record.evaluation.conformity.steps;
    const auto& steps = record.evaluation.steps;
    std::vector<std::pair<const calib::StepConformity*, const StepResult*>> limited;
    for (const StepResult& step : steps)
        for (const calib::StepConformity& row : judged)
            if (row.step == step.observation.step && row.verdict != Verdict::no_limit)
                limited.emplace_back(&row, &step);
    if (limited.empty()) return;
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    const auto write_limits = [&](std::size_t from, std::size_t to) {
        Column lower{words.text("dcc.lower_limit"), "basic_toleranceLimitLower", per_cent, {}, {}, {}, ""};
        Column upper{words.text("dcc.upper_limit"), "basic_toleranceLimitUpper", per_cent, {}, {}, {}, ""};
        for (std::size_t i = from; i < to; ++i) {
            lower.values.push_back(significant(limited[i].first->low_percent, 6));
            upper.values.push_back(significant(limited[i].first->high_percent, 6));
        }
        xml.open("dcc:data");
        write_quantity(writer, lower);
        write_quantity(writer, upper);
        xml.close();
    };
    xml.open("dcc:measurementMetaData");
    if (limited.size() == steps.size()) {
        std::string verdicts;
        for (const auto& [row, step] : limited)
            verdicts += (verdicts.empty() ? "" : " ") + verdict_word(*row, *step);
        xml.open("dcc:metaData", {{"refId", statement}, {"refType", "basic_conformity"}});
        for (const auto& [row, step] : limited)
            if (certificate::is_verdict_reserved(record, row->step)) {
                writer.name("dcc:declaration", reserved_words(writer, record));
                break;
            }
        xml.text("dcc:conformityXMLList", verdicts);
        write_limits(0, limited.size());
        xml.close();
    } else {
        for (std::size_t i = 0; i < limited.size(); ++i) {
            xml.open("dcc:metaData", {{"refId", statement}, {"refType", "basic_conformity"}});
            writer.name("dcc:name",
                        words.text("results.step") + " " + std::to_string(limited[i].first->step));
            if (certificate::is_verdict_reserved(record, limited[i].first->step))
                writer.name("dcc:declaration", reserved_words(writer, record));
            xml.text("dcc:conformity", verdict_word(*limited[i].first, *limited[i].second));
            write_limits(i, i + 1);
            xml.close();
        }
    }
    xml.close();
}

void write_table(Writer& writer, const Record& record, const char* statement) {
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    const double coverage = record.plan.coverage;
    const auto& steps = record.evaluation.steps;
    const auto plain = [&](const char* name_key, std::string_view ref_type, std::string_view unit,
                           const std::function<std::string(const StepResult&)>& value) {
        Column column{words.text(name_key), ref_type, unit, {}, {}, {}, ""};
        for (const StepResult& step : steps) column.values.push_back(value(step));
        write_quantity(writer, column);
    };
    const StepDecimals decimals = decimals_of(steps, coverage);
    xml.open("dcc:list", {{"refType", "gp_table1"}});
    if (is_timed(record)) {
        const bool all_set = std::all_of(steps.begin(), steps.end(), [](const StepResult& step) {
            return step.observation.set_intensity_mm_h > 0;
        });
        if (all_set)
            plain("dcc.set", "", mm_per_hour,
                  [](const StepResult& step) { return significant(step.observation.set_intensity_mm_h, 6); });
        Column reference{words.text("dcc.reference"), "basic_referenceValue", mm_per_hour, {}, {}, {}, ""};
        for (const StepResult& step : steps)
            add(reference, step.reference_intensity_mm_h->value,
                calib::expanded(*step.reference_intensity_mm_h, coverage), decimals.reference);
        write_quantity(writer, reference);
        plain("dcc.indicated", "basic_measuredValue", mm_per_hour,
              [](const StepResult& step) { return significant(*step.indicated_intensity_mm_h, 6); });
        plain("dcc.duration", "", second,
              [](const StepResult& step) { return significant(*step.observation.duration_s, 7); });
    }
    plain("dcc.tips", "", one, [](const StepResult& step) { return std::to_string(step.observation.tips); });
    Column volume{words.text("dcc.volume"), "", millilitre, {}, {}, {}, ""};
    for (const StepResult& step : steps)
        add(volume, step.volume_per_tip_mL.value, calib::expanded(step.volume_per_tip_mL, coverage),
            decimals.volume);
    write_quantity(writer, volume);

    Column error{words.text("dcc.error"), "basic_measurementError", per_cent, {}, {}, {}, ""};
    for (const StepResult& step : steps)
        add(error, step.error_percent.value, step.error_expanded, decimals.error);
    xml.open("dcc:quantity", {{"refType", error.ref_type}});
    writer.name("dcc:name", error.name);
    write_list(writer, error);
    write_verdicts(writer, record, statement);
    xml.close();
    xml.close();
}

void write_correction(Writer& writer, const Record& record, const std::string& state) {
    const auto& correction = record.evaluation.correction;
    if (!correction || correction->rows.empty()) return;
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    Column interval{words.text("dcc.interval"), "", second, {}, {}, {}, ""};
    Column depth{words.text("dcc.depth"), "", millimetre, {}, {}, {}, ""};
    Column factor{words.text("dcc.factor"), "", one, {}, {}, {}, ""};
    const CorrectionDecimals decimals = decimals_of(*correction, record.plan.coverage);
    for (const calib::CorrectionRow& row : correction->rows) {
        interval.values.push_back(significant(row.interval_s, 6));
        const calib::Expanded expanded = calib::expanded(row.depth_mm, record.plan.coverage);
        add(depth, row.depth_mm.value, expanded, decimals.depth);
        add(factor, row.factor, {expanded.k, row.factor_U, record.plan.coverage}, decimals.factor);
    }
    xml.open("dcc:result");
    writer.name("dcc:name", words.text("correction.heading") + ", " + state);
    std::string description = certificate::correction_or_table(record, words);
    for (const std::string& sentence :
         {certificate::siphon_sentence(record, words), certificate::correction_example(record, words),
          certificate::correction_range(record, words),
          record.statement.correction == calib::Claim::reserved ? reserved_words(writer, record) : ""})
        if (!sentence.empty()) description += "\n" + sentence;
    writer.name("dcc:description", description);
    xml.open("dcc:data");
    xml.open("dcc:list");
    write_quantity(writer, interval);
    write_quantity(writer, depth);
    write_quantity(writer, factor);
    xml.close();
    xml.close();
    xml.close();
}

// Each component's part in the standard uncertainty of the error, step by step, as the certificate's budget
// has it.
void write_budget(Writer& writer, const Record& record) {
    const auto& steps = record.evaluation.steps;
    const certificate::Words& words = writer.words();
    std::vector<Column> columns;
    std::vector<std::string> ids;
    for (const StepResult& step : steps)
        for (const calib::BudgetComponent& component : step.budget) {
            if (component.relative_to_e() == 0 ||
                std::find(ids.begin(), ids.end(), component.id) != ids.end())
                continue;
            ids.push_back(component.id);
            columns.push_back(
                {words.named("component", component.id, component.label), "", per_cent, {}, {}, {}, ""});
        }
    if (columns.empty()) return;
    for (std::size_t i = 0; i < ids.size(); ++i)
        for (const StepResult& step : steps) {
            double contribution = 0;
            for (const calib::BudgetComponent& component : step.budget)
                if (component.id == ids[i])  // 100 + e, as in uncertainty.cpp
                    contribution =
                        std::abs((100 + step.error_percent.value) * component.relative_to_e()) * component.u;
            columns[i].values.push_back(calib::fixed(contribution, 4));
        }
    XmlWriter& xml = writer.xml;
    xml.open("dcc:result", {{"refType", ""}});
    writer.name("dcc:name", words.text("uncertainty.heading"));
    xml.open("dcc:data");
    xml.open("dcc:list");
    for (const Column& column : columns) write_quantity(writer, column);
    xml.close();
    xml.close();
    xml.close();
}

void write_state(Writer& writer, const Record& record, const char* statement) {
    XmlWriter& xml = writer.xml;
    const certificate::Words& words = writer.words();
    const std::string state =
        words.text(record.state == State::as_found ? "title.as_found" : "title.as_left");
    xml.open("dcc:measurementResult");
    writer.name("dcc:name", words.text("results.heading", {{"state", state}}));
    write_methods(writer, record);
    write_instruments(writer, record);
    write_conditions(writer, record);
    xml.open("dcc:results");
    xml.open("dcc:result");
    writer.name("dcc:name", words.text("dcc.error"));
    xml.open("dcc:data");
    write_table(writer, record, statement);
    xml.close();
    xml.close();
    write_correction(writer, record, state);
    write_budget(writer, record);
    xml.close();
    xml.close();
}

}  // namespace

void write_measurement_results(Writer& writer, const Record& record) {
    writer.xml.open("dcc:measurementResults");
    if (writer.options.as_found) write_state(writer, *writer.options.as_found, "conformity_as_found");
    write_state(writer, record, "conformity");
    writer.xml.close();
}

}  // namespace tipwright::report::dcc
