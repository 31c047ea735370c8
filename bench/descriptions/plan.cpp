#include <algorithm>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/parts.hpp"

namespace tipwright::bench {
namespace {

constexpr std::size_t steps_max = 60;
constexpr std::size_t limit_rows_max = 60;
constexpr int repeats_max = 20;

// An odd number would leave one compartment counted once more than the other.
int even_tips(TomlTable& table, std::string_view key, int low, int high, std::optional<int> absent) {
    const int tips = table.whole_number(key, low, high, absent);
    if (tips % 2 != 0)
        table.fault(FaultCode::bad_value, key,
                    std::string(key) + " is " + std::to_string(tips) +
                        ", must be even: a bucket has two compartments",
                    "take " + std::to_string(tips + 1));
    return tips;
}

void read_steps(TomlTable& root, int repeats, calib::Plan& plan, FaultList& faults) {
    std::vector<TomlTable> tables = root.tables("step");
    if (tables.empty() && faults.empty())
        root.fault(FaultCode::missing_field, "step", "the plan has no step",
                   "add a [[step]] with intensity_mm_h, min_tips and time_limit_s");
    if (tables.size() > steps_max)
        root.fault(FaultCode::bad_value, "step",
                   "the plan has " + std::to_string(tables.size()) + " steps, at most " +
                       std::to_string(steps_max) + " are run",
                   "split it");
    for (TomlTable& table : tables) {
        calib::PlanStep step;
        const std::size_t faults_before = faults.size();
        step.intensity_mm_h = table.number("intensity_mm_h", {0.1, 3000, "mm/h"});
        step.min_tips = even_tips(table, "min_tips", 2, 100000, std::nullopt);
        step.time_limit_s = table.number("time_limit_s", {1, 172800, "s"});
        step.repeats = table.whole_number("repeats", 1, repeats_max, repeats);
        const bool again = table.flag("again", false);
        table.finish();
        if (plan.repeat_rule == calib::RepeatRule::discard_extremes_mean && step.repeats < 3)
            table.fault(FaultCode::inconsistent, "repeats",
                        "a step is run " + std::to_string(step.repeats) +
                            " times, but two runs of it are to be discarded",
                        "set repeats to 3 or more (WMO-No. 8 asks for 5), or repeat_rule = \"mean\"");
        if (faults.size() != faults_before) continue;
        const auto same = std::find_if(
            plan.steps.begin(), plan.steps.end(),
            [&](const calib::PlanStep& other) { return other.intensity_mm_h == step.intensity_mm_h; });
        if (again && same == plan.steps.end())
            table.fault(FaultCode::inconsistent, "again",
                        "step " + std::to_string(plan.steps.size() + 1) + " is to run the " +
                            shortest(step.intensity_mm_h) + " mm/h again, but no step before it ran them",
                        "take the intensity of an earlier step, or remove again");
        if (!again && same != plan.steps.end())
            table.fault(FaultCode::duplicate, "intensity_mm_h",
                        "step " + std::to_string(plan.steps.size() + 1) + " repeats the " +
                            shortest(step.intensity_mm_h) + " mm/h of step " +
                            std::to_string(same - plan.steps.begin() + 1),
                        "remove one, change its intensity, or say again = true to see whether the gauge is "
                        "still the same");
        plan.steps.push_back(step);
    }
}

calib::Limits read_limits(TomlTable table, FaultList& faults) {
    calib::Limits limits;
    if (!table.given()) return limits;
    limits.name = table.text("name");
    limits.source = table.text("source");
    std::vector<TomlTable> rows = table.tables("row");
    if (rows.empty() && faults.empty())
        table.fault(FaultCode::missing_field, "row", "the limits have no row",
                    "add a [[limits.row]] with from_mm_h, to_mm_h, low_percent and high_percent");
    if (rows.size() > limit_rows_max)
        table.fault(FaultCode::bad_value, "row",
                    "the limits have " + std::to_string(rows.size()) + " rows, at most " +
                        std::to_string(limit_rows_max) + " are read",
                    "");
    for (TomlTable& row : rows) {
        calib::LimitRow limit;
        const std::size_t faults_before = faults.size();
        limit.from_mm_h = row.number("from_mm_h", {0, 3000, "mm/h"});
        limit.to_mm_h = row.number("to_mm_h", {0, 3000, "mm/h"});
        limit.low_percent = row.number("low_percent", {-100, 100, "%"});
        limit.high_percent = row.number("high_percent", {-100, 100, "%"});
        row.finish();
        if (faults.size() != faults_before) continue;
        if (!(limit.from_mm_h < limit.to_mm_h))
            row.fault(
                FaultCode::inconsistent, "to_mm_h",
                "to_mm_h " + shortest(limit.to_mm_h) + " is not above from_mm_h " + shortest(limit.from_mm_h),
                "swap them");
        if (!(limit.low_percent < limit.high_percent))
            row.fault(FaultCode::inconsistent, "low_percent",
                      "the limits are upside down: low_percent " + shortest(limit.low_percent) +
                          " is not below high_percent " + shortest(limit.high_percent),
                      "swap them; an error of -5 % is low_percent = -5");
        for (const calib::LimitRow& other : limits.rows)
            if (limit.from_mm_h < other.to_mm_h && other.from_mm_h < limit.to_mm_h)
                row.fault(FaultCode::duplicate, "from_mm_h",
                          "the row from " + shortest(limit.from_mm_h) + " mm/h overlaps the one from " +
                              shortest(other.from_mm_h) + " mm/h",
                          "let each row end where the next begins");
        limits.rows.push_back(limit);
    }
    limits.confirmed = table.flag("confirmed", true);
    if (table.has("population_sd_percent") || table.has("population_mean_percent") ||
        table.has("population_source")) {
        calib::GaugePopulation population;
        population.mean_percent = table.number("population_mean_percent", {-100, 100, "%"}, 0);
        population.sd_percent = table.number("population_sd_percent", {0.01, 100, "%"});
        population.source = table.text("population_source");
        limits.population = population;
    }
    table.finish();
    return limits;
}

// What with_return makes a step of.
void check_return(TomlTable table, const calib::Plan& plan) {
    if (!table.given()) return;
    even_tips(table, "tips", 2, 100000, std::nullopt);
    table.number("time_limit_s", {1, 172800, "s"});
    table.finish();
    if (plan.repeat_rule == calib::RepeatRule::discard_extremes_mean)
        table.fault(FaultCode::inconsistent, "return",
                    "two runs of each step are to be discarded, but the return is one run",
                    "remove [return]: the repeats of each step show a change");
}

// Offset of the first byte of a line.
std::size_t start_of_line(std::string_view text, unsigned wanted) {
    std::size_t offset = 0;
    for (unsigned line = 1; line < wanted && offset < text.size(); ++offset)
        if (text[offset] == '\n') ++line;
    return offset;
}

}  // namespace

Result<PlanDescription> parse_plan(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    PlanDescription out;
    out.text = text;
    calib::Plan& plan = out.plan;
    plan.name = root.text("title");
    plan.target_U_percent = root.number("target_U_percent", {0.05, 20, "%"});
    plan.coverage = root.number("coverage", {0.5, 0.9999, ""}, plan.coverage);

    TomlTable wetting = root.table("wetting");
    plan.wetting_intensity_mm_h =
        wetting.number("intensity_mm_h", {0.1, 3000, "mm/h"}, plan.wetting_intensity_mm_h);
    plan.wetting_tips = wetting.whole_number("tips", 0, 10000, plan.wetting_tips);
    wetting.finish();
    TomlTable settle = root.table("settle");
    plan.settle_tips = even_tips(settle, "tips", 0, 1000, plan.settle_tips);
    plan.settle_s = settle.number("time_s", {0, 3600, "s"}, plan.settle_s);
    settle.finish();
    plan.repeat_rule =
        static_cast<calib::RepeatRule>(root.choice("repeat_rule", {"mean", "discard-extremes-mean"}, 0));
    read_steps(root, root.whole_number("repeats", 1, repeats_max, 1), plan, faults);
    check_return(root.table("return"), plan);
    plan.limits = read_limits(root.table("limits"), faults);

    TomlTable decision = root.table("decision");
    if (decision.given()) {
        plan.rule = static_cast<calib::DecisionRule>(
            decision.choice("rule", {"simple acceptance", "guard band", "conformance probability"}));
        const bool by_probability = plan.rule == calib::DecisionRule::conformance_probability;
        if (by_probability || decision.has("required_probability"))
            plan.required_probability = decision.number("required_probability", {0.5, 0.9999, ""});
        if (!by_probability && decision.has("required_probability"))
            decision.fault(FaultCode::inconsistent, "required_probability",
                           "required_probability is given, but the rule does not use it",
                           "remove it, or set rule = \"conformance probability\"");
        const bool is_given = decision.has("guard_band_times_U");
        const double times_U = decision.number("guard_band_times_U", {0.1, 5, ""}, plan.guard_band_times_U);
        if (plan.rule == calib::DecisionRule::guard_band) {
            plan.guard_band_times_U = times_U;
        } else if (is_given) {
            decision.fault(FaultCode::inconsistent, "guard_band_times_U",
                           "guard_band_times_U is given, but the rule does not use it",
                           "remove it, or set rule = \"guard band\"");
        }
        decision.finish();
    }
    root.finish();
    if (faults.empty() && decision.given() && plan.limits.rows.empty())
        root.fault(FaultCode::inconsistent, "decision", "a decision rule is given, but no limits",
                   "add limits, or remove [decision]");
    if (!faults.empty()) return faults.first();
    return out;
}

Result<calib::Limits> parse_limits(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    calib::Limits limits = read_limits(root.required_table("limits"), faults);
    root.finish();
    if (!faults.empty()) return faults.first();
    return limits;
}

Result<std::string> limits_named_by(const DescriptionText& plan) {
    const Result<TomlValue> tree = parse_toml(plan);
    if (!tree) return tree.fault();
    const TomlEntry* limits = tree->find("limits");
    if (limits == nullptr || limits->value.kind != TomlKind::text) return std::string();
    return limits->value.text;
}

DescriptionText with_part_inside(const DescriptionText& whole, std::string_view key,
                                 const DescriptionText& part) {
    DescriptionText out = whole;
    const Result<TomlValue> tree = parse_toml(whole);
    const TomlEntry* named = tree ? tree->find(key) : nullptr;
    if (named == nullptr) return out;
    // The naming line becomes a comment, so that every other line keeps its number.
    out.text.insert(start_of_line(out.text, named->key_at.line), "# ");
    if (!out.text.ends_with('\n')) out.text += '\n';
    out.text += "\n# From " + part.name + ":\n" + part.text;
    return out;
}

}  // namespace tipwright::bench
