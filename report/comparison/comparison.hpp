// Comparison of several records: error curves side by side, E_n numbers, drift per year in service, and up to
// which intensity each gauge keeps an accuracy. Mathematics in calib/decision/comparison.hpp and drift.hpp;
// here the records are read, matched and tabled. As CSV and as lines for a terminal here, as PDF in
// report/comparison/comparison_pdf.hpp. Errors in per cent, intensities in mm/h, time in years.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/decision/drift.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

inline constexpr std::size_t max_compared_records = 200;

struct ComparisonRequest {
    double limit_percent = 5;  // the accuracy asked for
    bool guarded = true;       // with the expanded uncertainty on top of the error
    double coverage = calib::default_coverage;
    std::vector<double> intensities_mm_h;  // empty: those that most records were set to
};

struct ComparedRecord {
    std::string key;   // A, B, ... in the order of time
    std::string name;  // model and serial number
    std::string kind;
    std::string serial;
    State state = State::as_found;
    std::string started_at;
    std::string number;
    bool invented = false;
    Origin origin = Origin::real_bench;
    calib::ErrorCurve curve;
    calib::AccuracyRange kept;
    std::vector<int> left_out;  // steps of which nothing is stated
};

struct ComparedError {
    calib::Uncertain percent;
    double U_percent = 0;
    std::optional<double> en;  // against the first record; none for the first itself
};

struct ComparedIntensity {
    double intensity_mm_h = 0;
    std::vector<std::optional<ComparedError>> errors;  // one for each record; none: beyond its range
};

struct GaugeDrift {
    std::string serial;
    double intensity_mm_h = 0;
    calib::DriftPerYear drift;
};

struct Comparison {
    ComparisonRequest request;
    std::vector<ComparedRecord> records;         // ascending time, as found before as left
    std::vector<ComparedIntensity> intensities;  // ascending
    std::vector<GaugeDrift> drifts;              // of gauges with service between their records
};

// Faults: too_few_points (fewer than two records, a record with one intensity), inconsistent (static
// checks beside others; among themselves they are compared at intensity 0), bad_value
// (limit, coverage, too many records), missing_field (a date), those of calib/decision/comparison.hpp; each
// names the record.
Result<Comparison> compare_records(const std::vector<Record>& records, const ComparisonRequest& request);

// One row for each record and intensity.
std::string comparison_csv(const Comparison& comparison);
// For people at a terminal: at most 100 columns wide for up to five records.
std::string comparison_text(const Comparison& comparison);

}  // namespace tipwright::report
