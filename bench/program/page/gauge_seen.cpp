#include "bench/program/page/gauge_seen.hpp"

#include <algorithm>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/common_options.hpp"
#include "bench/program/register/entities.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/register.hpp"

namespace tipwright::program {

namespace {

using report::Id;

constexpr std::size_t most_curves = 8;  // markers that differ
// Looked through for them: some are drafts, replaced, or of another model's gauge of that number.
constexpr std::size_t most_looked_through = 64;

Result<std::vector<page::CurveOfYear>> curves_of(report::Register& reg, const report::GaugeEntry& gauge,
                                                 std::size_t most) {
    report::ListFilter filter;
    filter.serial = gauge.serial;
    filter.limit = most_looked_through;
    const auto table = reg.list_certificates(filter);
    if (!table) return table.fault();
    std::vector<page::CurveOfYear> out;
    for (const auto& row : table->rows) {
        const auto certificate = reg.certificate(std::get<Id>(row[1]));
        if (!certificate) return certificate.fault();
        if (certificate->state != report::CertificateState::issued || !certificate->superseded_by.empty() ||
            certificate->gauge != gauge.id)
            continue;
        for (const auto& [id, left] :
             {std::pair{certificate->as_found, false}, {certificate->as_left, true}}) {
            if (id == 0) continue;
            const auto record = reg.record(id);
            if (!record) return record.fault();
            out.push_back(
                {certificate->number, certificate->calibrated_on, left, report::kept_curve(*record)});
        }
    }
    if (out.size() > most) out.erase(out.begin(), out.end() - static_cast<std::ptrdiff_t>(most));
    return out;
}

}  // namespace

Result<page::GaugeAtDoor> gauge_at_door(const CommonOptions& common, report::Register& reg,
                                        const std::string& serial) {
    page::GaugeAtDoor out;
    const auto gauge = gauge_meant(reg, serial, "");
    if (!gauge) return gauge.fault();
    out.entry = *gauge;
    if (const auto kind = bench::load_gauge(gauge->kind, common.templates)) out.kind_title = kind->kind_title;
    if (gauge->station != 0) {
        const auto station = reg.station(gauge->station);
        if (!station) return station.fault();
        out.station = station->name;
    }
    if (gauge->customer != 0) {
        const auto customer = reg.customer(gauge->customer);
        if (!customer) return customer.fault();
        out.customer = customer->name;
    }
    report::ListFilter filter;
    filter.serial = gauge->serial;
    const auto orders = reg.list_orders(filter, true);
    if (!orders) return orders.fault();
    for (const auto& row : orders->rows) {
        if (report::text_of(row[2]) != gauge->model) continue;
        out.order = report::Order{std::get<Id>(row[0]),    gauge->id,
                                  report::text_of(row[3]), report::text_of(row[4]),
                                  report::text_of(row[5]), ""};
        break;
    }
    const auto listed = reg.list_gauges(filter);
    if (!listed) return listed.fault();
    for (const auto& row : listed->rows)
        if (report::text_of(row[1]) == gauge->model)
            out.last_elsewhere = report::text_of(row.back()) == "elsewhere";
    const auto curves = curves_of(reg, *gauge, 2);
    if (!curves) return curves.fault();
    if (!curves->empty()) {
        out.last_certificate = curves->back().number;
        out.last_curve = curves->back().curve;
        out.last_curve_on = curves->back().on;
    }
    return out;
}

Result<page::LifeOfGauge> life_of_gauge(const CommonOptions& common, report::Register& reg,
                                        const std::string& serial) {
    page::LifeOfGauge out;
    auto gauge = gauge_at_door(common, reg, serial);
    if (!gauge) return gauge.fault();
    out.gauge = std::move(*gauge);
    auto events = reg.life(serial);
    if (!events) return events.fault();
    out.events = std::move(*events);
    auto curves = curves_of(reg, out.gauge.entry, most_curves);
    if (!curves) return curves.fault();
    out.curves = std::move(*curves);
    const auto elsewhere = reg.calibrations_elsewhere(out.gauge.entry.id);
    if (!elsewhere) return elsewhere.fault();
    for (const auto& one : *elsewhere)
        if (!one.points.empty())
            out.curves.push_back(
                {one.certificate, one.calibrated_on, false, report::curve_from_text(one.points), true});
    std::stable_sort(out.curves.begin(), out.curves.end(),
                     [](const auto& a, const auto& b) { return a.on < b.on; });
    if (out.curves.size() > most_curves) out.curves.erase(out.curves.begin(), out.curves.end() - most_curves);
    return out;
}

}  // namespace tipwright::program
