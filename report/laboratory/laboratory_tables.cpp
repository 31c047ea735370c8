// The check gauge as JSON, CSV and lines for a terminal.
#include <cstdio>
#include <nlohmann/json.hpp>

#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/files/inert_text.hpp"
#include "report/laboratory/laboratory_report.hpp"

namespace tipwright::report {

namespace {

using calib::CheckChart;

std::string name_of_chart(const CheckChart& one) {
    if (one.intensity_mm_h == 0) return "mean";
    char text[32];
    std::snprintf(text, sizeof text, "%g", one.intensity_mm_h);
    return text;
}

std::string signals_at(const calib::ControlChart& chart, std::size_t run) {
    std::string out;
    for (const auto& signal : chart.signals)
        if (signal.at == run) {
            out += out.empty() ? "" : " ";
            out += calib::control_rule_names[static_cast<std::size_t>(signal.rule)];
        }
    return out;
}

std::string shown(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.4f", value);
    return text;
}

nlohmann::ordered_json parts_json(const calib::VarianceParts& parts) {
    nlohmann::ordered_json out = {{"parts", nlohmann::ordered_json::array()},
                                  {"not_parted", parts.left_out},
                                  {"intermediate_precision_percent", parts.total_sd},
                                  {"dof", parts.total_dof}};
    for (const auto& part : parts.parts)
        out["parts"].push_back({{"name", part.name},
                                {"levels", part.levels},
                                {"dof", part.dof},
                                {"mean_square", part.mean_square},
                                {"variance", part.variance},
                                {"s_percent", part.sd},
                                {"s_low_percent", part.low_sd},
                                {"s_high_percent", part.high_sd}});
    return out;
}

}  // namespace

std::string laboratory_json(const LaboratoryReport& report) {
    nlohmann::ordered_json out = {{"format", "tipwright check gauge"}, {"version", "1.0"}};
    out["gauge"] = valid_utf8(report.gauge);
    out["serial"] = valid_utf8(report.serial);
    out["laboratory"] = valid_utf8(report.laboratory);
    out["invented"] = report.invented;
    out["in_control"] = !report.analysis.alarm();
    if (report.analysis.alarm_at)
        out["alarm"] = {{"run", *report.analysis.alarm_at + 1},
                        {"ended_at", report.analysis.moments[*report.analysis.alarm_at]},
                        {"answered", report.analysis.answered}};
    auto& actions = out["actions"] = nlohmann::ordered_json::array();
    for (const auto& one : report.analysis.actions)
        actions.push_back({{"on", one.on}, {"what", valid_utf8(one.what)}});
    auto& runs = out["runs"] = nlohmann::ordered_json::array();
    for (std::size_t i = 0; i < report.runs.size(); ++i)
        runs.push_back({{"name", valid_utf8(report.runs[i])}, {"ended_at", report.analysis.moments[i]}});
    auto& charts = out["charts"] = nlohmann::ordered_json::array();
    for (const CheckChart& one : report.analysis.charts) {
        nlohmann::ordered_json chart = {
            {"of", name_of_chart(one)},           {"baseline_runs", one.chart.baseline},
            {"centre_percent", one.chart.centre}, {"s_percent", one.chart.sd},
            {"limit_percent", one.chart.limit},   {"errors_percent", one.chart.values}};
        if (one.intensity_mm_h == 0) {
            chart["hidden_move_percent"] = calib::hidden_move(one.chart);
            chart["weighted_percent"] = one.chart.weighted;
            chart["weighted_limit_percent"] = one.chart.weighted_limit;
        }
        auto& signals = chart["signals"] = nlohmann::ordered_json::array();
        for (const auto& signal : one.chart.signals)
            signals.push_back({{"run", signal.at + 1},
                               {"rule", calib::control_rule_names[static_cast<std::size_t>(signal.rule)]},
                               {"above", signal.above}});
        chart["variance"] = parts_json(one.parts);
        charts.push_back(std::move(chart));
    }
    auto& table = out["cmc"] = nlohmann::ordered_json::array();
    for (const auto& one : report.analysis.capabilities)
        table.push_back({{"intensity_mm_h", one.intensity_mm_h},
                         {"runs", one.runs},
                         {"u_shared_percent", one.u_shared_percent},
                         {"u_own_percent", one.u_own_percent},
                         {"precision_percent", one.precision_percent},
                         {"precision_counts", one.precision_counts},
                         {"u_percent", one.u_percent},
                         {"k", one.k},
                         {"U_percent", one.U_percent}});
    return out.dump(1) + "\n";
}

std::string control_csv(const LaboratoryReport& report) {
    std::string out =
        "run,record,ended_at,chart_mm_h,error_percent,centre_percent,limit_percent,weighted_percent,"
        "weighted_limit_percent,signals\n";
    for (const CheckChart& one : report.analysis.charts)
        for (std::size_t i = 0; i < one.chart.values.size(); ++i) {
            const bool mean = one.intensity_mm_h == 0;
            out += std::to_string(i + 1) + "," + text_field(report.runs[i]) + "," +
                   text_field(report.analysis.moments[i]) + "," + name_of_chart(one) + "," +
                   shown(one.chart.values[i]) + "," + shown(one.chart.centre) + "," + shown(one.chart.limit) +
                   "," + (mean ? shown(one.chart.weighted[i]) : "") + "," +
                   (mean ? shown(one.chart.weighted_limit[i]) : "") + "," + signals_at(one.chart, i) + "\n";
        }
    return out;
}

std::string capability_csv(const LaboratoryReport& report) {
    std::string out =
        "intensity_mm_h,U_percent,k,u_percent,u_shared_percent,u_own_percent,precision_percent,runs\n";
    for (const auto& one : report.analysis.capabilities) {
        char row[240];
        std::snprintf(row, sizeof row, "%g,%g,%.3f,%.4f,%.4f,%.4f,%.4f,%d\n", one.intensity_mm_h,
                      one.U_percent, one.k, one.u_percent, one.u_shared_percent, one.u_own_percent,
                      one.precision_percent, one.runs);
        out += row;
    }
    return out;
}

std::string capability_toml(const LaboratoryReport& report) {
    std::string out = "# CMC from the check gauge's runs: " + visible(report.gauge) +
                      ". A bench reads it by capability = \"cmc.toml\".\n";
    for (const auto& one : report.analysis.capabilities) {
        char table[120];
        std::snprintf(table, sizeof table, "\n[[capability]]\nintensity_mm_h = %g\nU_percent = %g\n",
                      one.intensity_mm_h, one.U_percent);
        out += table;
    }
    return out;
}

std::string laboratory_text(const LaboratoryReport& report) {
    const CheckChart& mean = report.analysis.charts.front();
    char text[200];
    std::string out = visible(report.gauge) + ", " + std::to_string(report.runs.size()) + " runs\n";
    std::snprintf(text, sizeof text, "mean error   %+.3f %%, limits ± %.3f %%, last %+.3f %%\n",
                  mean.chart.centre, mean.chart.limit, mean.chart.values.back());
    out += text;
    std::snprintf(text, sizeof text,
                  "limits       by the first %zu runs; a move of up to %.2f %% among them can hide there\n",
                  mean.chart.baseline, calib::hidden_move(mean.chart));
    out += text;
    for (const auto& part : mean.parts.parts) {
        std::snprintf(text, sizeof text, "%-12s s %.3f %%  (%.3f to %.3f)\n", part.name.c_str(), part.sd,
                      part.low_sd, part.high_sd);
        out += text;
    }
    for (const auto& one : report.analysis.capabilities) {
        std::snprintf(text, sizeof text, "CMC %8g mm/h  U %g %%\n", one.intensity_mm_h, one.U_percent);
        out += text;
    }
    for (const auto& one : report.analysis.actions) out += "done " + one.on + "  " + visible(one.what) + "\n";
    out += report.analysis.alarm() ? "ALARM: out of control\n" : "in control\n";
    return out;
}

}  // namespace tipwright::report
