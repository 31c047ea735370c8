// How it was measured: conditions, instruments with their traceability, method and deviations.
#include <algorithm>
#include <cmath>

#include "report/certificate/facts_words.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/method_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/supplied_words.hpp"
#include "report/certificate/table.hpp"
#include "report/certificate/work_words.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report::certificate {

namespace {

struct ConditionRow {
    const char* key;
    const char* unit;
    int decimals;
    double calib::Conditions::*member;
    double u;
    const std::optional<calib::PermittedRange>& permitted;
};

}  // namespace

void draw_conditions(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    const calib::BenchMetrology& bench = content.record.bench;
    flow.heading(words.text("conditions.heading"));
    if (content.record.origin == Origin::supplied_data)
        flow.paragraph(words.text("conditions.supplied"), small_style);

    const ConditionRow rows[] = {
        {"conditions.water", "°C", 1, &calib::Conditions::water_temperature_C, bench.water_temperature_u_C,
         bench.environment.water_temperature_C},
        {"conditions.air", "°C", 1, &calib::Conditions::air_temperature_C, bench.air_temperature_u_C,
         bench.environment.air_temperature_C},
        {"conditions.pressure", "hPa", 0, &calib::Conditions::air_pressure_hPa, bench.air_pressure_u_hPa,
         bench.environment.air_pressure_hPa},
        {"conditions.humidity", "%", 0, &calib::Conditions::relative_humidity_percent,
         bench.relative_humidity_u_percent, bench.environment.relative_humidity_percent},
    };
    const bool limited = std::any_of(std::begin(rows), std::end(rows),
                                     [](const ConditionRow& row) { return row.permitted.has_value(); });
    // Quantities side by side: few lines in place of one for each. Each state was measured by itself, perhaps
    // on another day: it has its own line.
    const auto states = content.states();
    Table table;
    table.low = true;
    table.columns = {{words.text("conditions.quantity"), 3.4, Align::left}};
    for (const Record* state : states)
        table.rows.push_back({{states.size() == 1 ? words.text("conditions.range")
                                                  : words.text("conditions.range_of_state",
                                                               {{"state", content.state_word(*state)}})}});
    table.rows.push_back({{words.text("conditions.U")}});
    if (limited) table.rows.push_back({{words.text("facts.permitted")}});
    const auto add = [&](const char* key, const std::vector<std::string>& ranges, const std::string& U,
                         const std::string& permitted = "–") {
        table.columns.push_back({words.text(key), 2, Align::centre});
        for (std::size_t i = 0; i < ranges.size(); ++i) table.rows[i].cells.push_back(ranges[i]);
        table.rows[ranges.size()].cells.push_back(U);
        if (limited) table.rows.back().cells.push_back(permitted);
    };
    const auto between = [&](double low, double high) {
        return words.text("format.range",
                          {{"low", numbers.significant(low, 5)}, {"high", numbers.significant(high, 5)}});
    };
    for (const ConditionRow& row : rows) {
        // As many digits as U has.
        const int decimals = row.u > 0
                                 ? std::clamp(1 - static_cast<int>(std::floor(std::log10(2 * row.u))), 0, 4)
                                 : row.decimals;
        std::vector<std::string> ranges;
        for (const Record* record : states) {
            double low = 1e300;
            double high = -1e300;
            for (const calib::StepResult& step : record->evaluation.steps) {
                low = std::min(low, step.observation.conditions.*row.member);
                high = std::max(high, step.observation.conditions.*row.member);
            }
            const std::string least = numbers.fixed(low, decimals);
            const std::string most = numbers.fixed(high, decimals);
            ranges.push_back(
                (least == most ? least : words.text("format.range", {{"low", least}, {"high", most}})) + " " +
                row.unit);
        }
        add(row.key, ranges, numbers.figures(2 * row.u, 2) + " " + row.unit,
            row.permitted ? between(row.permitted->low, row.permitted->high) + " " + row.unit : "–");
    }
    const calib::Uncertain& evaporation = bench.evaporation_g_h;
    // It takes its time: without one it is in no result.
    if (!content.is_static() && (evaporation.value != 0 || evaporation.u != 0)) {
        const auto pair = numbers.pair(evaporation.value, {2, 2 * evaporation.u, content.coverage()});
        // The bench's, not a state's.
        add("conditions.evaporation", std::vector<std::string>(states.size(), pair.value + " g/h"),
            pair.U + " g/h");
    }
    draw_table(flow, table, words.decimal_sign());
    if (const std::string water = water_words(words, content.record); !water.empty())
        flow.paragraph(water, small_style);
}

namespace {

// Of every state, each instrument once, with the state where not all had it.
std::vector<std::pair<InstrumentUsed, std::string>> instruments_of(const Content& content) {
    const auto same = [](const InstrumentUsed& a, const InstrumentUsed& b) {
        return a.role == b.role && a.description == b.description && a.serial == b.serial &&
               a.certificate == b.certificate && a.calibrated_on == b.calibrated_on && a.due_on == b.due_on &&
               a.traceability == b.traceability && a.issued_by == b.issued_by;
    };
    const auto has = [&](const Record& record, const InstrumentUsed& used) {
        return std::any_of(record.instruments.begin(), record.instruments.end(),
                           [&](const InstrumentUsed& other) { return same(used, other); });
    };
    std::vector<std::pair<InstrumentUsed, std::string>> out;
    const auto states = content.states();
    for (const Record* state : states)
        for (const InstrumentUsed& used : state->instruments) {
            const bool listed = std::any_of(out.begin(), out.end(),
                                            [&](const auto& other) { return same(used, other.first); });
            if (listed) continue;
            const bool of_all = std::all_of(states.begin(), states.end(),
                                            [&](const Record* other) { return has(*other, used); });
            out.emplace_back(used, of_all ? "" : content.state_word(*state));
        }
    return out;
}

}  // namespace

void draw_instruments(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    flow.heading(words.text("instruments.heading"));
    const auto instruments = instruments_of(content);
    if (instruments.empty()) {
        flow.paragraph(words.text("instruments.no_instruments"));
        return;
    }
    const bool any_issuer = std::any_of(instruments.begin(), instruments.end(),
                                        [](const auto& entry) { return !entry.first.issued_by.empty(); });
    Table table;
    table.low = true;
    // Dates one below the other, a serial number below its instrument: every row has two lines anyhow, and
    // what is longer needs the width.
    table.columns = {
        {words.text("instruments.role") + "\n" + words.text("instruments.serial"), 70, Align::left},
        {words.text("instruments.description"), 136, Align::left},
        {words.text("instruments.certificate"), any_issuer ? 150.0 : 80.0, Align::left},
        {words.text("instruments.calibrated") + "\n" + words.text("instruments.due"), 56, Align::left},
        {words.text("instruments.traceability"), 154, Align::left}};
    const auto stated = [&](const std::string& text) { return text.empty() ? "–" : text; };
    const auto calibration = [&](const InstrumentUsed& used) {
        if (used.certificate.empty()) return words.text("instruments.none");
        const std::string issuer = issuer_words(words, used);
        return used.certificate + (issuer.empty() ? "" : ", " + issuer);
    };
    for (const auto& [used, state] : instruments)
        table.rows.push_back(
            {{words.named("role", used.role, used.role) + (state.empty() ? "" : ", " + state) + "\n" +
                  stated(used.serial),
              stated(used.description), calibration(used),
              stated(words.short_date(used.calibrated_on)) + "\n" + stated(words.short_date(used.due_on)),
              stated(traceability_said(used))}});
    draw_table(flow, table, words.decimal_sign());
    const std::string traced =
        content.by_state([&](const Record& state) { return traceability_words(words, state); });
    if (!traced.empty()) flow.paragraph(traced, small_style);
}

namespace {

std::string plan_words(const Words& words, const Record& record) {
    std::string line;
    if (!record.plan.name.empty())
        line = words.text(
            "method.plan",
            {{"plan", without_full_stop(words.named("translated", record.plan.name, record.plan.name))}});
    if (record.bench_duration_s > 0) {
        const auto minutes = static_cast<long>(std::lround(record.bench_duration_s / 60));
        line += (line.empty() ? "" : " ") +
                words.text("method.duration", {{"hours", std::to_string(minutes / 60)},
                                               {"minutes", std::to_string(minutes % 60)}});
    }
    return line;
}

}  // namespace

void draw_method(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Record& record = content.record;
    flow.heading(words.text("method.heading"));
    if (const std::string procedure = procedure_words(words, record); !procedure.empty())
        flow.paragraph(procedure, stated_style);
    std::string method = method_in_brief(record, words);
    if (!method.empty()) method += " ";
    flow.paragraph(method + words.text("method.in_annex"), stated_style);
    std::string line = content.by_state([&](const Record& state) { return plan_words(words, state); });
    // With two states each entry says of which it is.
    std::vector<std::string> deviations;
    std::vector<std::string> findings;
    for (const Record* state : content.states()) {
        const auto add = [&](std::vector<std::string>& list, const std::string& text) {
            list.push_back(content.of_state(*state, text));
        };
        for (const std::string& text : deviations_words(*state, words)) add(deviations, text);
        std::vector<calib::Finding> others = findings_of(*state);
        std::erase_if(others, is_deviation);
        for (const std::string& text : findings_words(words, others)) add(findings, text + ".");
    }
    // Lines of two states end where they end.
    if (!line.empty()) line += line.find('\n') == std::string::npos ? " " : "\n";
    if (deviations.empty()) {
        flow.paragraph(line + words.text("method.no_deviations"), stated_style);
    } else {
        flow.need(34);
        flow.paragraph(line + words.text("method.deviations"), stated_style);
        flow.list(deviations, stated_style);
    }
    if (!content.options.work.empty()) {
        flow.need(34);
        flow.paragraph(words.text("method.work"), stated_style);
        flow.list(work_words(words, content.options.work), stated_style);
    }
    if (!findings.empty()) {
        flow.need(34);
        flow.paragraph(words.text("method.findings"), stated_style);
        flow.list(findings, stated_style);
    }
}

void draw_method_in_detail(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Record& record = content.record;
    flow.heading(words.text("method.heading_in_detail"));
    const std::string method = method_words(record, words);
    if (method != method_in_brief(record, words)) flow.paragraph(method);
    const auto& steps = record.evaluation.steps;
    const bool by_volume = std::all_of(
        steps.begin(), steps.end(), [](const calib::StepResult& step) { return step.observation.is_volume; });
    // A static check has no time, so no flow and no intensity.
    const bool timed = !content.is_static();
    flow.paragraph(words.text(timed ? "method.equations" : "method.equations_static"), body_style, 14);
    flow.paragraph(words.text(by_volume ? timed ? "method.symbols_volume_timed" : "method.symbols_volume"
                              : timed   ? "method.symbols"
                                        : "method.symbols_static"),
                   small_style);
    if (!record.instruments.empty() && !by_volume)
        flow.paragraph(words.text(timed ? "instruments.derived" : "instruments.derived_static"), small_style);
    for (const Record* state : content.states())
        if (!state->source_name.empty())
            flow.paragraph(
                content.of_state(*state, words.text("method.source", {{"name", state->source_name},
                                                                      {"sha256", state->source_sha256}})),
                small_style);
}

}  // namespace tipwright::report::certificate
