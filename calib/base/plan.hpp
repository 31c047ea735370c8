// Plan: which intensities, how long, to which uncertainty, and against which limits.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace tipwright::calib {

struct PlanStep {
    double intensity_mm_h = 0;
    int min_tips = 20;        // even
    double time_limit_s = 0;  // for the collect
    int repeats = 1;          // collects of their own, each settled anew, 1 to 20
};

// How the repeats of a step become its result.
enum class RepeatRule {
    mean,                   // of all
    discard_extremes_mean,  // the runs of largest and smallest error discarded, mean of the rest (WMO-No. 8)
};

// Allowed error of indication between two reference intensities (both included).
struct LimitRow {
    double from_mm_h = 0;
    double to_mm_h = 0;
    double low_percent = 0;  // for example -5
    double high_percent = 0;
};

// What is known of the errors of such gauges before one is measured: normal.
struct GaugePopulation {
    double mean_percent = 0;
    double sd_percent = 0;
    std::string source;  // where this knowledge comes from
};

struct Limits {
    std::string name;    // "class B"
    std::string source;  // document and clause, or "common practice, no source"
    std::vector<LimitRow> rows;
    std::optional<GaugePopulation> population = std::nullopt;  // none: no global risk can be stated
    bool confirmed = true;  // false: nobody compared the numbers with the current edition of the source
};

enum class DecisionRule {
    simple_acceptance,        // |e| within the limit
    guard_band,               // |e| + w within the limit (ILAC-G8:09/2019), w = guard_band_times_U U
    conformance_probability,  // P(conform) >= required (JCGM 106:2012 clause 7)
};

struct Plan {
    std::string name;  // title for people
    std::vector<PlanStep> steps;
    RepeatRule repeat_rule = RepeatRule::mean;
    double target_U_percent = 1.0;  // U(e) at which a collect may end
    double coverage = 0.95;
    double wetting_intensity_mm_h = 60;
    int wetting_tips = 20;
    int settle_tips = 4;   // tips let pass after a change of rate, even
    double settle_s = 20;  // and at least this long
    Limits limits;         // rows empty: no statement of conformity wanted
    DecisionRule rule = DecisionRule::simple_acceptance;
    double guard_band_times_U = 1;       // guard_band only
    double required_probability = 0.95;  // conformance_probability only
};

}  // namespace tipwright::calib
