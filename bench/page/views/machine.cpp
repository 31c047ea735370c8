#include "bench/page/views/machine.hpp"

#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>

namespace tipwright::page {

namespace {

using Json = nlohmann::ordered_json;

const char* stand_name(Stand stand) {
    switch (stand) {
        case Stand::begins:
            return "begins";
        case Stand::running:
            return "running";
        case Stand::abandoned:
            return "abandoned";
        case Stand::complete:
            return "complete";
        case Stand::broken_off:
            return "broken_off";
        case Stand::unreadable:
            return "unreadable";
    }
    return "unreadable";
}

const char* hand_name(Hand hand) {
    switch (hand) {
        case Hand::none:
            return "none";
        case Hand::empty_vessel:
            return "empty_vessel";
        case Hand::pull_plug:
            return "pull_plug";
        case Hand::look_after:
            return "look_after";
    }
    return "none";
}

Json number(const std::optional<double>& value) {
    return value && std::isfinite(*value) ? Json(*value) : Json(nullptr);
}

Json json_of(const RunFacts& run) {
    Json out = {
        {"run", run.id},
        {"stand", stand_name(run.stand)},
        {"hand", hand_name(run.hand)},
        {"gauge", run.serial},
        {"kind", run.kind_title},
        {"station", run.station},
        {"customer", run.customer},
        {"plan", run.plan_name},
        {"bench", run.bench_title},
        {"started_at", run.started_at},
        {"ended_at", run.ended_at},
        {"virtual", run.is_virtual},
        {"invented", run.invented},
        {"state", bench::name_of(run.state)},
        {"step", run.step},
        {"steps", run.steps},
        {"repeat", run.repeat},
        {"repeats", run.repeats},
        {"set_intensity_mm_h", run.set_intensity_mm_h},
        {"measured_intensity_mm_h", number(run.measured_intensity_mm_h)},
        {"volume_per_tip_mL", number(run.volume_per_tip_mL)},
        {"error_percent", number(run.error_percent)},
        {"error_U_percent", number(run.error_U_percent)},
        {"target_U_percent", run.target_U_percent},
        {"tips", run.tips},
        {"contact_tips", Json(std::vector<int>(run.contact_tips.begin(),
                                               run.contact_tips.begin() + std::min(run.contacts, 2)))},
        {"tips_of_run", run.all_tips},
        {"mass_g", number(run.mass_g)},
        {"flow_mL_min", number(run.flow_mL_min)},
        {"time_s", run.time_s},
        {"time_left_s", run.time_left_s},
        {"planned_s", run.planned_s}};
    const bool judged = run.stand == Stand::complete && run.judged == Judged::done;
    out["verdict"] = judged ? Json(calib::name_of(run.came_out.verdict)) : Json(nullptr);
    out["verdict_claim"] = judged ? Json(calib::name_of(run.came_out.claim)) : Json(nullptr);
    auto& findings = out["findings"] = Json::array();
    for (const auto& finding : run.findings) {
        Json one = {{"finding", name_of(finding.id)}, {"step", finding.step}, {"run", finding.run}};
        for (const auto& value : finding.numbers) one["numbers"][value.name] = number(value.value);
        findings.push_back(one);
    }
    out["remarks"] = run.remarks;
    out["remarks_left_out"] = run.remarks_left_out;
    out["fault"] =
        run.fault ? Json{{"code", name_of(run.fault->code)}, {"line", run.fault->line()}} : Json(nullptr);
    return out;
}

std::string text_of(const Json& document) {
    return document.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string label(const std::string& text) {
    std::string out;
    for (const char c : text) {
        if (c == '\\' || c == '"') out += '\\';
        if (c == '\n')
            out += "\\n";
        else
            out += c;
    }
    return out;
}

Json table_json(const report::Table& table) {
    return Json::parse(report::as_json(table));
}

struct Metric {
    const char* name;
    const char* type;
    const char* suffix;  // of the sample's name
    const char* help;
    std::function<std::optional<double>(const RunFacts&)> value;
};

}  // namespace

std::string runs_json(const std::vector<RunFacts>& runs, const std::vector<EarlierRun>& earlier) {
    Json out = {{"version", 1}, {"runs", Json::array()}, {"earlier", Json::array()}};
    for (const RunFacts& run : runs) out["runs"].push_back(json_of(run));
    for (const EarlierRun& run : earlier)
        out["earlier"].push_back({{"run", run.id}, {"changed_at", run.changed_at}});
    return text_of(out);
}

std::string run_json(const RunFacts& run) {
    return text_of(json_of(run));
}

std::string register_json(const std::string& name, const report::Table& table) {
    return text_of(Json{{"version", 1}, {name, table_json(table)}, {"cut", table.cut}});
}

std::string fault_json(const Fault& fault) {
    return text_of(Json{{"fault", fault.line()}});
}

std::string metrics_text(const std::vector<RunFacts>& runs) {
    const auto flag = [](bool value) { return std::optional<double>(value ? 1 : 0); };
    const Metric metrics[] = {
        {"tipwright_run_going_on", "gauge", "", "1 while a program writes the run.",
         [&](const RunFacts& r) { return flag(r.stand == Stand::running || r.stand == Stand::begins); }},
        {"tipwright_run_needs_hand", "gauge", "", "1 while somebody has to do something at the bench.",
         [&](const RunFacts& r) { return flag(r.hand != Hand::none); }},
        {"tipwright_run_step", "gauge", "", "Current step of the plan.",
         [](const RunFacts& r) { return std::optional<double>(r.step); }},
        {"tipwright_run_tips", "counter", "_total", "Tips of the run.",
         [](const RunFacts& r) { return std::optional<double>(r.all_tips); }},
        {"tipwright_run_findings", "gauge", "", "Findings about gauge and bench.",
         [](const RunFacts& r) { return std::optional<double>(static_cast<double>(r.findings.size())); }},
        {"tipwright_run_error_percent", "gauge", "", "Error of indication of the current step.",
         [](const RunFacts& r) { return r.error_percent; }},
        {"tipwright_run_error_U_percent", "gauge", "", "Its expanded uncertainty.",
         [](const RunFacts& r) { return r.error_U_percent; }},
        {"tipwright_run_flow_ml_per_min", "gauge", "", "Flow that the pump was set to.",
         [](const RunFacts& r) { return std::optional<double>(r.flow_mL_min); }},
        {"tipwright_run_time_left_seconds", "gauge", "", "Least time left for the steps.",
         [](const RunFacts& r) { return std::optional<double>(r.time_left_s); }},
    };
    std::string out;
    for (const Metric& metric : metrics) {
        out += "# TYPE " + std::string(metric.name) + " " + metric.type + "\n# HELP " + metric.name + " " +
               metric.help + "\n";
        for (const RunFacts& run : runs) {
            const auto value = metric.value(run);
            if (!value || !std::isfinite(*value)) continue;
            out += std::string(metric.name) + metric.suffix + "{run=\"" + label(run.id) + "\",gauge=\"" +
                   label(run.serial) + "\"} " + Json(*value).dump() + "\n";
        }
    }
    return out + "# EOF\n";
}

}  // namespace tipwright::page
