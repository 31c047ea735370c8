#include "bench/program/results/trial_history.hpp"

#include <algorithm>
#include <chrono>
#include <map>
#include <set>

#include "bench/program/results/read_record.hpp"
#include "calib/base/dates.hpp"
#include "calib/base/text.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

namespace {

constexpr double days_in_a_year = 365.25;
constexpr std::size_t most_gauges = 100000;
// Drift is told at an intensity every plan reaches.
constexpr double drift_mm_h = 50;
// An adjustment may be entered so long after the run that shows it (common practice, no source).
constexpr double entered_late_days = 30;

double days_of(const std::string& iso) {
    const auto date = iso_date(std::string_view(iso).substr(0, 10));
    return date ? static_cast<double>(std::chrono::sys_days(*date).time_since_epoch().count()) : 0;
}

struct Years {
    int gauges = 0;
    double gauge_years = 0;
    int services = 0;
    int adjustments = 0;
    int missed_closures = 0;
    std::map<std::string, int> findings;
    std::vector<calib::ServiceStretch> stretches;
};

// Columns of Register::life and Register::list_certificates.
enum CertificateColumn : std::size_t { certificate_number = 0, certificate_state = 2 };
enum GaugeColumn : std::size_t { gauge_serial = 0, gauge_model = 1, gauge_kind = 2 };

// Days on which the register notes an adjustment.
using Days = std::set<double>;

Outcome add_life(report::Register& reg, const std::string& serial, const std::string& model, double today,
                 Years& years, Days& adjusted) {
    const auto life = reg.life(serial);
    if (!life) return life.fault();
    double first = today;
    for (const report::LifeEvent& event : *life) {
        if (event.model != model || event.what == "due") continue;
        if (const double day = days_of(event.on); day > 0) first = std::min(first, day);
        if (event.what == "received") ++years.services;
        if (event.what == "adjusted") adjusted.insert(days_of(event.on));
        if (event.what == "finding" && !event.parts.empty()) {
            const std::string& found = event.parts.front().text;
            ++years.findings[small_letters(found.substr(0, found.find("; ")))];
        }
    }
    ++years.gauges;
    years.gauge_years += (today - first) / days_in_a_year;
    return Done{};
}

std::optional<calib::Uncertain> error_of(const report::Record& record) {
    const auto curve = calib::error_curve("", 0, report::stated_steps(record));
    if (!curve) return std::nullopt;
    const auto error = calib::error_at(*curve, drift_mm_h);
    if (!error) return std::nullopt;
    return *error;
}

bool misses_closures(const report::Record& record) {
    using calib::FindingId;
    const auto missed = [](const calib::Finding& one) {
        return one.id == FindingId::contact_missed || one.id == FindingId::contact_one_sided ||
               one.id == FindingId::contact_counts || one.id == FindingId::missed_weighed ||
               one.id == FindingId::missed_timed;
    };
    const auto& seen = record.evaluation.findings;
    return std::any_of(record.findings.begin(), record.findings.end(), missed) ||
           std::any_of(seen.begin(), seen.end(), missed);
}

// A visit counts once, whether the screws' turns were entered, a run as left shows it, or both.
int adjustments_of(const Days& entered, const std::vector<std::pair<double, double>>& found_to_left) {
    Days visits = entered;
    for (const auto& [found, left] : found_to_left) {
        const auto first = visits.lower_bound(found);
        const auto last = visits.upper_bound(left + entered_late_days);
        visits.erase(first, last);
        visits.insert(left);
    }
    return static_cast<int>(visits.size());
}

// Records behind the certificates of one gauge, and stretches of service between them.
Outcome add_records(report::Register& reg, const std::string& serial, const std::string& model,
                    const Days& adjusted, RegisterTrial& out, Years& years) {
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
    std::vector<std::pair<double, double>> found_to_left;
    std::set<report::Id> taken;
    for (const auto& row : list->rows) {
        if (report::text_of(row[certificate_state]) != "issued") continue;
        const auto certificate = reg.certificate(report::text_of(row[certificate_number]));
        if (!certificate) return certificate.fault();
        if (!certificate->superseded_by.empty()) continue;
        Calibrated one{days_of(certificate->calibrated_on), std::nullopt, std::nullopt};
        double found_on = 0;
        for (const report::Id id : {certificate->as_found, certificate->as_left}) {
            if (id == 0 || !taken.insert(id).second) continue;
            auto record = kept_sound_record(reg, id, certificate->number);
            if (!record) return record.fault();
            if (record->identity.model != model) continue;
            (id == certificate->as_found ? one.found : one.left) = error_of(*record);
            const double on = days_of(record->ended_at);
            if (record->state == report::State::as_found) {
                found_on = on;
                if (misses_closures(*record)) ++years.missed_closures;
            } else {
                found_to_left.emplace_back(found_on > 0 ? found_on : on, on);
            }
            out.records.push_back(std::move(*record));
        }
        calibrated.push_back(one);
    }
    years.adjustments += adjustments_of(adjusted, found_to_left);
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
    out.missed_closures = calib::trial::event_rate(years.missed_closures, years.gauge_years);
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
        Days adjusted;
        if (auto added = add_life(reg, serial, model, until, years, adjusted); !added) return added.fault();
        if (auto added = add_records(reg, serial, model, adjusted, out, years); !added) return added.fault();
    }
    for (const auto& [kind, years] : by_kind)
        if (years.gauge_years > 0) out.histories.push_back(history_of(kind, years));
    return out;
}

}  // namespace tipwright::program
