#include "bench/descriptions/return_step.hpp"

#include <algorithm>
#include <sstream>
#include <string>

#include "bench/descriptions/reading.hpp"
#include "bench/descriptions/toml_reader.hpp"

namespace tipwright::bench {

Result<PlanDescription> with_return(const GaugeDescription& gauge, const PlanDescription& plan) {
    if (gauge.gauge.compartments != 1 || plan.plan.steps.empty()) return plan;
    const Result<TomlValue> tree = parse_toml(plan.text);
    if (!tree) return tree.fault();
    FaultList faults(plan.text.name);
    TomlTable root(&*tree, {}, "", faults);
    TomlTable wanted = root.table("return");
    if (!wanted.given()) return plan;
    const int tips = wanted.whole_number("tips", 2, 100000);
    const double time_limit_s = wanted.number("time_limit_s", {1, 172800, "s"});
    if (!faults.empty()) return faults.first();

    // The table becomes a remark, line by line, so that every other line keeps its number and nobody returns
    // twice.
    DescriptionText out{plan.text.name, {}};
    bool inside = false;
    std::istringstream lines(plan.text.text);
    for (std::string line; std::getline(lines, line);) {
        const std::string bare = line.substr(std::min(line.find_first_not_of(" \t"), line.size()));
        if (bare.starts_with("[")) inside = bare.starts_with("[return]");
        out.text += (inside && !bare.empty() ? "# " : "") + line + "\n";
    }
    out.text +=
        "\n# The return to the first rate: this gauge has one compartment.\n[[step]]\nagain = true\n" +
        ("intensity_mm_h = " + shortest(plan.plan.steps.front().intensity_mm_h)) +
        "\nmin_tips = " + std::to_string(tips) + "\ntime_limit_s = " + shortest(time_limit_s) +
        "\nrepeats = 1\n";
    return parse_plan(out);
}

}  // namespace tipwright::bench
