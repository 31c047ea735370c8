// Supplied measurements: what somebody else measured on a gauge, from a table (CSV) with lines
// "# name = value" before its header. One file, one gauge. Two forms: a row per step (tips, duration, mass or
// volume) or a row per tip (compartment, balance before and after). Format: templates/supplied/README.md.
// Faults name file:line:column and the column: syntax, missing_field, unknown_field, bad_value, duplicate,
// inconsistent, file_too_large.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/descriptions/descriptions.hpp"
#include "calib/base/fault.hpp"
#include "calib/tips/observation.hpp"

namespace tipwright::bench {

enum class SuppliedForm { per_step, per_tip };

// Single tips of one compartment (or of a spoon), in the unit of the table.
struct TipGroup {
    int tips = 0;
    double mean = 0;
    double sd = 0;     // sample standard deviation (n - 1); 0 below two tips
    double u() const;  // of the mean, sd / sqrt n
};

// What single tips of a step say by themselves, before any evaluation.
struct TipSummary {
    int step = 0;
    bool in_mL = false;  // otherwise grams as weighed
    TipGroup all;
    std::optional<TipGroup> a;  // first-named compartment: A, left, 1
    std::optional<TipGroup> b;
    double mean = 0;  // of both compartments, each counting half; of all tips for a spoon
    // 100 (a - b) / mean of both, with standard uncertainty and degrees of freedom.
    calib::Uncertain difference_percent;
};

struct SuppliedMeasurements {
    SuppliedForm form = SuppliedForm::per_step;
    GaugeDescription gauge;  // kind empty: none stated
    PartyDescription laboratory;
    std::string place;
    std::string measured_by;
    std::string measured_on;  // ISO date
    std::string source;       // where the numbers come from
    std::string licence;
    std::string method;
    std::vector<InstrumentDescription> instruments;  // the balance, when it is described
    calib::BenchMetrology metrology;
    std::vector<calib::StepObservation> observations;
    std::vector<TipSummary> tips;          // per-tip form only, as the observations
    calib::Plan plan;                      // steps as measured; no limits
    std::vector<std::string> assumptions;  // what was not stated and what was taken instead
    DescriptionText text;
};

Result<SuppliedMeasurements> parse_supplied(const DescriptionText& text);
Result<SuppliedMeasurements> load_supplied(const std::filesystem::path& file);

}  // namespace tipwright::bench
