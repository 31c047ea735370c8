#include "bench/program/results/trial_history.hpp"

#include <algorithm>
#include <chrono>
#include <map>
#include <set>

#include "calib/base/dates.hpp"
#include "calib/base/text.hpp"

namespace tipwright::program {

namespace {

constexpr double days_in_a_year = 365.25;
constexpr std::size_t most_gauges = 100000;
// Drift is told at an intensity every plan reaches.
constexpr double drift_mm_h = 50;

double days_of(const std::string& iso) {
    const auto date = iso_date(std::string_view(iso).substr(0, 10));
    return date ? static_cast<double>(std::chrono::sys_days(*date).time_since_epoch().count()) : 0;
}

struct Years {
    int gauges = 0;
    double gauge_years = 0;
    int services = 0;
    int adjustments = 0;
    std::map<std::string, int> findings;
    std::vector<calib::ServiceStretch> stretches;
};

// Columns of Register::life and Register::list_certificates.
enum LifeColumn : std::size_t { life_model = 1, life_date = 2, life_event = 3, life_detail = 5 };
enum CertificateColumn : std::size_t { certificate_number = 0, certificate_state = 2 };
enum GaugeColumn : std::size_t { gauge_serial = 0, gauge_model = 1, gauge_kind = 2 };

Outcome add_life(report::Register& reg, const std::string& serial, const std::string& model, double today,
                 Years& years) {
    const auto life = reg.life(serial);
    if (!life) return life.fault();
    double first = today;
    for (const auto& row : life->rows) {
        if (report::text_of(row[life_model]) != model) continue;
        const std::string event = report::text_of(row[life_event]);
        if (event == "due") continue;
        if (const double day = days_of(report::text_of(row[life_date])); day > 0)
            first = std::min(first, day);
        if (event == "received") ++years.services;
        if (event == "adjusted") ++years.adjustments;
        if (event == "finding") {
            const std::string detail = report::text_of(row[life_detail]);
            ++years.findings[small_letters(detail.substr(0, detail.find("; ")))];
        }
    }
    ++years.gauges;
    years.gauge_years += (today - first) / days_in_a_year;
    return Done{};
}

std::optional<calib::Uncertain> error_of(const report::Record& record) {
    const auto curve = calib::error_curve("", 0, record.evaluation.steps);
    if (!curve) return std::nullopt;
    const auto error = calib::error_at(*curve, drift_mm_h);
    if (!error) return std::nullopt;
    return *error;
}

// Records behind the certificates of one gauge, and stretches of service between them.
Outcome add_records(report::Register& reg, const std::string& serial, const std::string& model,
                    RegisterTrial& out, Years& years) {
    report::ListFilter filter;
    filter.serial = serial;
    const auto list = reg.list_certificates(filter);
    if (!list) return list.fault();
    struct Calibrated {
        double on = 0;
        std::optional<calib::Uncertain> found;
        std::optional<calib::Uncertain> left;
    };
    std::vector<Calibrated> calibrated;
    std::set<report::Id> taken;
    for (const auto& row : list->rows) {
        if (report::text_of(row[certificate_state]) != "issued") continue;
        const auto certificate = reg.certificate(report::text_of(row[certificate_number]));
        if (!certificate) return certificate.fault();
        if (!certificate->superseded_by.empty()) continue;
        Calibrated one{days_of(certificate->calibrated_on), std::nullopt, std::nullopt};
        for (const report::Id id : {certificate->as_found, certificate->as_left}) {
            if (id == 0 || !taken.insert(id).second) continue;
            auto record = reg.record(id);
            if (!record) return record.fault();
            if (record->identity.model != model) continue;
            (id == certificate->as_found ? one.found : one.left) = error_of(*record);
            out.records.push_back(std::move(*record));
        }
        calibrated.push_back(one);
    }
    std::stable_sort(calibrated.begin(), calibrated.end(),
                     [](const Calibrated& a, const Calibrated& b) { return a.on < b.on; });
    for (std::size_t i = 1; i < calibrated.size(); ++i) {
        const auto& before = calibrated[i - 1].left ? calibrated[i - 1].left : calibrated[i - 1].found;
        if (before && calibrated[i].found && calibrated[i].on > calibrated[i - 1].on)
            years.stretches.push_back({calibrated[i - 1].on / days_in_a_year, *before,
                                       calibrated[i].on / days_in_a_year, *calibrated[i].found});
    }
    return Done{};
}

report::KindHistory history_of(const std::string& kind, const Years& years) {
    report::KindHistory out;
    out.kind = kind;
    out.gauges = years.gauges;
    out.gauge_years = years.gauge_years;
    out.services = calib::trial::event_rate(years.services, years.gauge_years);
    out.adjustments = calib::trial::event_rate(years.adjustments, years.gauge_years);
    for (const auto& [what, count] : years.findings)
        out.findings.push_back({what, calib::trial::event_rate(count, years.gauge_years)});
    std::stable_sort(out.findings.begin(), out.findings.end(),
                     [](const auto& a, const auto& b) { return a.rate.events > b.rate.events; });
    if (!years.stretches.empty())
        if (const auto drift = calib::drift_per_year(years.stretches)) out.drift = *drift;
    out.drift_at_mm_h = drift_mm_h;
    return out;
}

}  // namespace

Result<RegisterTrial> trial_from_register(report::Register& reg, const std::vector<std::string>& kinds,
                                          const std::string& today) {
    report::ListFilter filter;
    filter.limit = most_gauges;
    const auto gauges = reg.list_gauges(filter);
    if (!gauges) return gauges.fault();
    if (gauges->cut)
        return Fault{FaultCode::bad_value, "the register has more than 100000 gauges", "trial",
                     "name records instead"};
    RegisterTrial out;
    std::map<std::string, Years> by_kind;
    const double until = days_of(today);
    for (const auto& row : gauges->rows) {
        const std::string serial = report::text_of(row[gauge_serial]);
        const std::string model = report::text_of(row[gauge_model]);
        const std::string kind = report::text_of(row[gauge_kind]);
        if (!kinds.empty() && std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) continue;
        Years& years = by_kind[kind];
        if (auto added = add_life(reg, serial, model, until, years); !added) return added.fault();
        if (auto added = add_records(reg, serial, model, out, years); !added) return added.fault();
    }
    for (const auto& [kind, years] : by_kind)
        if (years.gauge_years > 0) out.histories.push_back(history_of(kind, years));
    return out;
}

}  // namespace tipwright::program
