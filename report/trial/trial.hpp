// Trial: several specimens of several kinds of gauge, each measured once or more, put together from their
// records: what each kind does, what it would make of the rain of some places, and which choice the data
// support. Mathematics in calib/trial; as text, CSV and JSON by trial_tables.hpp, as PDF by trial_pdf.hpp.
// Errors in per cent, intensities in mm/h.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/decision/drift.hpp"
#include "calib/trial/costs.hpp"
#include "calib/trial/place.hpp"
#include "calib/trial/poisson.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

inline constexpr std::size_t max_trial_records = 5000;
inline constexpr std::size_t max_trial_kinds = 8;

struct TrialRequest {
    double limit_percent = 5;   // the accuracy asked for
    double probability = 0.95;  // with which a gauge of the kind keeps it
    double required = 0.95;     // probability from which a choice counts as supported
    calib::trial::Amount by = calib::trial::Amount::year;
    calib::trial::Corrected corrected = calib::trial::Corrected::none;
    double coverage = calib::default_coverage;
    std::vector<std::string> kinds;  // empty: all
};

struct TrialSpecimen {
    std::string serial;
    int runs = 0;
    double level_percent = 0;  // predicted: how far it reads above the mean gauge, at no intensity
};

// Of gauges measured as found and as left, over the intensities both have in common.
struct AdjustmentEffect {
    int gauges = 0;
    double found_mean = 0;
    double found_sd = 0;
    double left_mean = 0;
    double left_sd = 0;
    calib::Uncertain change;  // mean of left minus found
    double U_change = 0;
};

// In service, from the register.
struct KindHistory {
    std::string kind;
    int gauges = 0;
    double gauge_years = 0;
    calib::trial::EventRate services;
    calib::trial::EventRate adjustments;  // visits at which screws were turned
    // Calibrations as found whose run saw closures missing: what nobody sees at the station.
    calib::trial::EventRate missed_closures;
    struct Found {
        std::string what;
        calib::trial::EventRate rate;
    };
    std::vector<Found> findings;  // most frequent first
    std::optional<calib::DriftPerYear> drift;
    double drift_at_mm_h = 0;
};

struct TrialKind {
    std::string kind;
    std::string title;
    State state = State::as_left;  // in which its specimens were judged
    double tip_mm = 0;
    double siphon_mm = 0;
    std::vector<TrialSpecimen> specimens;
    calib::trial::KindModel model;
    calib::trial::SpreadIntervals spread;  // per cent; tilt: at the highest intensity measured
    std::vector<calib::trial::CurveValue> curve;
    calib::trial::KeptRange kept;
    std::optional<AdjustmentEffect> adjustment;
    std::optional<KindHistory> history;
    std::optional<calib::trial::KindCost> cost;
};

struct LeftOut {
    std::string what;  // kind, or record
    std::string why;
};

struct TrialSite {
    std::string title;
    std::string source;
    calib::trial::RainClimate climate;
    bool adjacent_assumed = false;
};

struct TrialPlace {
    TrialSite site;
    calib::trial::PlaceResult result;
    calib::trial::Choice choice;  // by the request's amount, corrected as requested
    std::vector<calib::trial::Duel> duels;
};

struct Trial {
    TrialRequest request;
    std::vector<TrialKind> kinds;
    std::vector<LeftOut> left_out;
    std::vector<TrialPlace> places;
    std::string currency;
    int records = 0;
    std::string from;  // dates of the records
    std::string to;
    bool invented = false;
    bool virtual_bench = false;
    bool supplied = false;
};

// Faults: too_few_points (no kind has two specimens), bad_value (limits, probabilities, too many records),
// those of calib/trial.
Result<Trial> make_trial(const std::vector<Record>& records, const std::vector<TrialSite>& sites,
                         const std::vector<KindHistory>& histories, const calib::trial::Costs& costs,
                         const TrialRequest& request);

// Cost of a year beyond the cheapest kind's, for each per cent of root mean square error less than that
// kind's; nothing for the cheapest itself, or where nothing is gained.
std::optional<double> cost_per_percent(const Trial& trial, const TrialPlace& place, std::size_t kind);

}  // namespace tipwright::report
