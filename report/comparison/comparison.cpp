#include "report/comparison/comparison.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <tuple>

#include "calib/base/dates.hpp"
#include "report/record/record_checks.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report {

namespace {

// A step is held to within 2 % of its set intensity: an end of a curve that is missed by no more than this is
// that end.
constexpr double end_margin = 1.03;
// Two set intensities closer than this are the same one.
constexpr double same_intensity = 1.005;

std::string called(const Record& record) {
    return "record " + visible(record.number) + " of gauge " + visible(record.identity.serial);
}

// Years since 2000-01-01, from "2026-03-02T08:14:00Z"; the time of day counts.
double years_of(const std::string& iso) {
    const auto number = [&](std::size_t at, std::size_t length) {
        int value = 0;
        for (std::size_t i = at; i < at + length && i < iso.size(); ++i)
            if (iso[i] >= '0' && iso[i] <= '9') value = 10 * value + (iso[i] - '0');
        return value;
    };
    using namespace std::chrono;
    const sys_days origin = year_month_day{year(2000), month(1u), day(1u)};
    const sys_days date = iso_date(std::string_view(iso).substr(0, 10)).value_or(year_month_day(origin));
    const double hours = iso.size() >= 16 ? number(11, 2) + number(14, 2) / 60.0 : 0;
    return (static_cast<double>((date - origin).count()) + hours / 24) / days_in_a_year;
}

std::string key_of(std::size_t index) {
    const std::string letter(1, static_cast<char>('A' + index % 26));
    return index < 26 ? letter : letter + std::to_string(index / 26);
}

std::string full_name(const GaugeIdentity& identity) {
    if (identity.serial.empty()) return identity.model;
    return identity.model.empty() ? identity.serial : identity.model + ", " + identity.serial;
}

Result<ComparedRecord> prepared(const Record& record, const ComparisonRequest& request) {
    if (auto fault = check_results(record)) return *fault;
    const std::vector<calib::StepResult> stated = stated_steps(record);
    const std::size_t all = stated.size() + steps_not_stated(record).size();
    if (stated.size() < std::min<std::size_t>(all, 2))
        return Fault{FaultCode::inconsistent,
                     "something is stated of " + std::to_string(stated.size()) + " of its " +
                         std::to_string(all) + " steps alone",
                     called(record), "compare records of sound runs"};
    if (!begins_with_date(record.started_at))
        return Fault{FaultCode::missing_field, "the record does not say when it was measured", called(record),
                     "compare records with a date"};
    auto curve = calib::error_curve(full_name(record.identity), years_of(record.started_at), stated,
                                    record.source_sha256);
    if (!curve) {
        Fault fault = curve.fault();
        fault.where = called(record) + (fault.where.empty() ? "" : ", " + fault.where);
        if (fault.remedy.empty()) fault.remedy = "compare records with at least two rain intensities";
        return fault;
    }
    const auto kept = calib::accuracy_range(*curve, request.limit_percent, request.guarded, request.coverage);
    if (!kept) return kept.fault();
    return ComparedRecord{"",
                          full_name(record.identity),
                          record.identity.kind,
                          record.identity.serial,
                          record.state,
                          record.started_at,
                          record.number,
                          record.invented,
                          record.origin,
                          std::move(*curve),
                          *kept,
                          steps_not_stated(record)};
}

struct Gathered {
    double intensity = 0;
    int records = 0;
};

// Each intensity the records were set to, with the number of records that were.
std::vector<Gathered> gathered_intensities(const std::vector<Record>& records) {
    std::vector<double> all;
    for (const Record& record : records)
        for (const calib::StepResult& step : stated_steps(record)) {
            const double set = step.observation.set_intensity_mm_h;
            if (set > 0)
                all.push_back(set);
            else if (step.reference_intensity_mm_h)
                all.push_back(step.reference_intensity_mm_h->value);
        }
    std::sort(all.begin(), all.end());
    std::vector<Gathered> out;
    for (double intensity : all) {
        if (out.empty() || intensity > out.back().intensity * same_intensity)
            out.push_back({intensity, 1});
        else
            ++out.back().records;
    }
    return out;
}

// Those wanted; else those most records were set to, no two closer than a tenth: rows that say the same help
// nobody.
std::vector<double> wanted_intensities(const std::vector<Record>& records, const ComparisonRequest& request) {
    constexpr double apart = 1.1;
    std::vector<double> chosen;
    if (!request.intensities_mm_h.empty()) {
        chosen = request.intensities_mm_h;
    } else {
        std::vector<Gathered> gathered = gathered_intensities(records);
        std::stable_sort(gathered.begin(), gathered.end(),
                         [](const Gathered& a, const Gathered& b) { return a.records > b.records; });
        for (const Gathered& one : gathered) {
            const bool far = std::all_of(chosen.begin(), chosen.end(), [&](double other) {
                return one.intensity >= apart * other || other >= apart * one.intensity;
            });
            if (far) chosen.push_back(one.intensity);
        }
    }
    std::sort(chosen.begin(), chosen.end());
    chosen.erase(std::unique(chosen.begin(), chosen.end()), chosen.end());
    return chosen;
}

std::optional<ComparedError> error_of(const ComparedRecord& record, double intensity, double coverage) {
    const auto& x = record.curve.errors.points.x;
    if (!(intensity * end_margin >= x.front() && intensity <= x.back() * end_margin)) return std::nullopt;
    const auto error = calib::error_at(record.curve, std::clamp(intensity, x.front(), x.back()));
    if (!error) return std::nullopt;
    return ComparedError{*error, calib::expanded(*error, coverage).U, std::nullopt};
}

calib::Contributions parts_of(const ComparedRecord& record, double intensity) {
    const auto& x = record.curve.errors.points.x;
    return calib::parts_at(record.curve, std::clamp(intensity, x.front(), x.back()));
}

// A stretch of service ends with a record as found; it began with the record before it of the same gauge.
// What was not adjusted was left as it was found.
Result<std::vector<GaugeDrift>> drifts_of(const Comparison& comparison) {
    std::vector<GaugeDrift> drifts;
    std::map<std::string, std::vector<std::size_t>> by_serial;
    for (std::size_t i = 0; i < comparison.records.size(); ++i)
        if (!comparison.records[i].serial.empty()) by_serial[comparison.records[i].serial].push_back(i);
    for (const auto& [serial, indices] : by_serial) {
        for (const ComparedIntensity& row : comparison.intensities) {
            std::vector<calib::ServiceStretch> stretches;
            for (std::size_t n = 1; n < indices.size(); ++n) {
                const ComparedRecord& before = comparison.records[indices[n - 1]];
                const ComparedRecord& after = comparison.records[indices[n]];
                const auto& left = row.errors[indices[n - 1]];
                const auto& found = row.errors[indices[n]];
                if (after.state != State::as_found || !left || !found) continue;
                if (!(after.curve.time_years > before.curve.time_years)) continue;
                stretches.push_back({before.curve.time_years, left->percent, after.curve.time_years,
                                     found->percent, parts_of(before, row.intensity_mm_h),
                                     parts_of(after, row.intensity_mm_h)});
            }
            if (stretches.empty()) continue;
            const auto drift = calib::drift_per_year(stretches, comparison.request.coverage);
            if (!drift) return drift.fault();
            drifts.push_back({serial, row.intensity_mm_h, *drift});
        }
    }
    return drifts;
}

}  // namespace

Result<Comparison> compare_records(const std::vector<Record>& records, const ComparisonRequest& request) {
    if (records.size() < 2)
        return Fault{FaultCode::too_few_points, std::to_string(records.size()) + " records", "comparison",
                     "give at least two"};
    if (records.size() > max_compared_records)
        return Fault{FaultCode::bad_value, std::to_string(records.size()) + " records", "comparison",
                     "give at most " + std::to_string(max_compared_records)};
    if (!(request.limit_percent > 0 && request.limit_percent < 100))
        return Fault{FaultCode::bad_value, std::to_string(request.limit_percent) + " % cannot be a limit",
                     "comparison", "give a limit between 0 and 100 %"};
    if (!(request.coverage > 0 && request.coverage < 1))
        return Fault{FaultCode::bad_value,
                     std::to_string(request.coverage) + " is not a coverage probability", "comparison",
                     "give for example 0.95"};
    Comparison comparison;
    comparison.request = request;
    for (const Record& record : records) {
        auto one = prepared(record, request);
        if (!one) return one.fault();
        comparison.records.push_back(std::move(*one));
    }
    std::stable_sort(comparison.records.begin(), comparison.records.end(),
                     [](const ComparedRecord& a, const ComparedRecord& b) {
                         return std::make_tuple(a.curve.time_years, a.state) <
                                std::make_tuple(b.curve.time_years, b.state);
                     });
    for (std::size_t i = 0; i < comparison.records.size(); ++i) comparison.records[i].key = key_of(i);

    for (double intensity : request.intensities_mm_h)
        if (!(intensity > 0 && intensity < 1e5))
            return Fault{FaultCode::bad_value, std::to_string(intensity) + " mm/h is not a rain intensity",
                         "comparison", "give intensities above 0 mm/h"};
    const auto at_rest = [](const ComparedRecord& record) { return record.curve.at_rest; };
    const auto static_ones = std::count_if(comparison.records.begin(), comparison.records.end(), at_rest);
    if (static_ones != 0 && static_cast<std::size_t>(static_ones) != comparison.records.size()) {
        const auto one = std::find_if(comparison.records.begin(), comparison.records.end(), at_rest);
        return Fault{FaultCode::inconsistent,
                     "a static check, while others were measured at rain intensities",
                     "record " + visible(one->number) + " of gauge " + visible(one->serial),
                     "compare static checks with static checks"};
    }
    // A static check has one error, at no rate at all.
    const std::vector<double> wanted =
        static_ones != 0 ? std::vector<double>{0} : wanted_intensities(records, request);
    for (double intensity : wanted) {
        ComparedIntensity row;
        row.intensity_mm_h = intensity;
        bool any = false;
        for (const ComparedRecord& record : comparison.records) {
            row.errors.push_back(error_of(record, intensity, request.coverage));
            any = any || row.errors.back();
        }
        if (!any) continue;
        const auto& first = row.errors.front();
        for (std::size_t i = 1; first && i < row.errors.size(); ++i) {
            if (!row.errors[i]) continue;
            const double en = calib::en_number(
                row.errors[i]->percent, parts_of(comparison.records[i], intensity), first->percent,
                parts_of(comparison.records.front(), intensity), request.coverage);
            // Without any uncertainty E_n says nothing.
            if (std::isfinite(en)) row.errors[i]->en = en;
        }
        comparison.intensities.push_back(std::move(row));
    }
    auto drifts = drifts_of(comparison);
    if (!drifts) return drifts.fault();
    comparison.drifts = std::move(*drifts);
    return comparison;
}

}  // namespace tipwright::report
