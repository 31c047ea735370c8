#include "report/record/record_upgrade.hpp"

#include <nlohmann/json.hpp>

namespace tipwright::report {

namespace {

using Json = nlohmann::json;

void add_findings_to(Json& owner) {
    if (!owner.is_object() || !owner.contains("observation") || !owner["observation"].is_object()) return;
    owner["observation"].emplace("findings", Json::array());
}

}  // namespace

void upgrade_from_1(Json& record) {
    if (!record.is_object() || !record.contains("evaluation") || !record["evaluation"].is_object()) return;
    Json& evaluation = record["evaluation"];
    Json steps = Json::array();
    if (evaluation.contains("steps") && evaluation["steps"].is_array()) {
        for (Json& step : evaluation["steps"]) {
            add_findings_to(step);
            if (!step.is_object()) continue;
            if (step.contains("repeats") && step["repeats"].is_array())
                for (Json& run : step["repeats"]) add_findings_to(run);
            if (step.contains("observation") && step["observation"].is_object() &&
                step["observation"].contains("step"))
                steps.push_back(step["observation"]["step"]);
        }
    }
    const bool corrected = evaluation.contains("correction") && !evaluation["correction"].is_null();
    evaluation.erase("no_correction_reason");
    evaluation.emplace("no_correction", corrected ? "derived" : "static_check");
    evaluation.emplace("correction_steps", corrected ? steps : Json::array());
    if (evaluation.contains("findings") && evaluation["findings"].is_array() &&
        record.contains("deviations") && record["deviations"].is_array()) {
        for (Json& sentence : evaluation["findings"]) record["deviations"].push_back(sentence);
        evaluation["findings"] = Json::array();
    }
    record.emplace("findings", Json::array());
    record.emplace("acceptance", nullptr);
    record.emplace("statement", Json{{"document", "calibration_certificate"},
                                     {"steps", Json::array()},
                                     {"results", "stated"},
                                     {"correction", "stated"},
                                     {"verdict", "stated"},
                                     {"traceability",
                                      {{"mass", "not_needed"},
                                       {"volume", "not_needed"},
                                       {"time", "not_needed"},
                                       {"temperature", "not_needed"},
                                       {"length", "not_needed"},
                                       {"any_certificate", true}}},
                                     {"reservations", Json::array()}});
}

}  // namespace tipwright::report
