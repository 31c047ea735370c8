#include "bench/descriptions/within_declared.hpp"

#include <algorithm>
#include <sstream>

#include "bench/descriptions/reading.hpp"

namespace tipwright::bench {

namespace {

bool is_beyond(double intensity_mm_h, const GaugeDescription& gauge) {
    const double declared = gauge.gauge.max_intensity_mm_h;
    return declared > 0 && !(intensity_mm_h <= declared);
}

std::string steps_beyond(const GaugeDescription& gauge, const PlanDescription& plan) {
    std::string out;
    for (std::size_t k = 0; k < plan.plan.steps.size(); ++k)
        if (is_beyond(plan.plan.steps[k].intensity_mm_h, gauge))
            out += (out.empty() ? "" : ", ") + std::to_string(k + 1) + " (" +
                   shortest(plan.plan.steps[k].intensity_mm_h) + " mm/h)";
    return out;
}

Fault beyond(const std::string& what, const GaugeDescription& gauge, const PlanDescription& plan,
             const std::string& remedy) {
    return {FaultCode::inconsistent,
            what + " beyond the " + shortest(gauge.gauge.max_intensity_mm_h) +
                " mm/h that the maker declares for " + gauge.kind_text.name,
            plan.text.name, remedy};
}

}  // namespace

Outcome check_within_declared(const GaugeDescription& gauge, const PlanDescription& plan) {
    if (is_beyond(plan.plan.wetting_intensity_mm_h, gauge))
        return beyond("wetting at " + shortest(plan.plan.wetting_intensity_mm_h) + " mm/h lies", gauge, plan,
                      "wet at a lower intensity");
    const std::string steps = steps_beyond(gauge, plan);
    if (steps.empty()) return Done{};
    return beyond("step " + steps + " lies", gauge, plan,
                  "choose another plan, or leave these steps out with --within-declared");
}

Result<PlanDescription> cut_to_declared(const GaugeDescription& gauge, const PlanDescription& plan) {
    const std::string steps = steps_beyond(gauge, plan);
    if (steps.empty()) {
        if (auto within = check_within_declared(gauge, plan); !within) return within.fault();
        return plan;
    }
    // A step's table begins with a line of its own and reaches to the next table.
    DescriptionText cut{plan.text.name, {}};
    std::size_t step = 0;
    std::size_t left_out = 0;
    bool keep = true;
    std::istringstream lines(plan.text.text);
    for (std::string line; std::getline(lines, line);) {
        const std::string bare = line.substr(std::min(line.find_first_not_of(" \t"), line.size()));
        if (bare.starts_with("[[step]]")) {
            keep = step < plan.plan.steps.size() && !is_beyond(plan.plan.steps[step].intensity_mm_h, gauge);
            left_out += keep ? 0 : 1;
            ++step;
        } else if (bare.starts_with("[")) {
            keep = true;
        }
        if (keep) cut.text += line + "\n";
    }
    if (step != plan.plan.steps.size() || left_out == step)
        return beyond(left_out == step ? "every step lies" : "step " + steps + " lies", gauge, plan,
                      "choose another plan");
    cut.text += "# Left out, beyond what the maker declares: step " + steps + ".\n";
    auto out = parse_plan(cut);
    if (!out) return out.fault();
    if (auto within = check_within_declared(gauge, *out); !within) return within.fault();
    return out;
}

}  // namespace tipwright::bench
