// Life of a gauge: everything the register knows of it, in order of time.
#include "report/register/life.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/kept_curve.hpp"

namespace tipwright::report {
namespace {

LifePart said(std::string id, std::vector<LifeNumber> numbers = {},
              std::vector<std::pair<std::string, std::string>> names = {}) {
    return {std::move(id), "", std::move(numbers), std::move(names)};
}

LifePart going_on(LifePart part) {
    part.goes_on = true;
    return part;
}

// Of a person; nothing where nothing was written.
void add_words(LifeEvent& event, const std::string& text) {
    if (!text.empty()) event.parts.push_back({"", text});
}

// What a column says that holds one of a few names.
LifePart named(const std::string& name) {
    constexpr std::string_view known[] = {"as_found",   "as_left",  "pass",   "fail",     "undecided",
                                          "not_stated", "no_limit", "poured", "collected"};
    if (std::find(std::begin(known), std::end(known), name) != std::end(known)) return said(name);
    LifePart out{"", name};
    std::replace(out.text.begin(), out.text.end(), '_', ' ');
    return out;
}

LifeEvent happened(const std::string& on, const std::string& what) {
    LifeEvent out;
    out.on = on;
    out.what = what;
    return out;
}

// Rows of a day and what people wrote.
void add_written(Database& database, const char* sql, const char* columns, Id gauge, const std::string& what,
                 Life& life) {
    database.each(sql, columns, {gauge}, [&](const Row& row) {
        LifeEvent event = happened(row.text(0), what);
        for (std::size_t i = 1; i < row.cells.size(); ++i)
            if (!row.null(i)) add_words(event, row.text(i));
        life.push_back(std::move(event));
    });
}

void add_measured(Database& database, Id gauge, Life& life) {
    database.each(
        "SELECT substr(u.ended_at, 1, 10), r.state, r.verdict, u.bench FROM records r "
        "JOIN runs u ON u.id = r.run_id WHERE u.gauge_id = :p1 AND r.id = (SELECT max(n.id) FROM "
        "records n WHERE n.run_id = r.run_id AND n.state = r.state) ORDER BY u.ended_at, r.id",
        "tttt", {gauge}, [&](const Row& row) {
            LifeEvent event = happened(row.text(0), "measured");
            for (const std::size_t column : {1, 2})
                if (!row.null(column)) event.parts.push_back(named(row.text(column)));
            if (!row.null(3)) add_words(event, row.text(3));
            life.push_back(std::move(event));
        });
}

// Turns of a screw: clockwise above zero.
void add_adjustments(Database& database, Id gauge, Life& life) {
    database.each(
        "SELECT a.made_on, a.work_done, a.turns_a, a.turns_b FROM adjustments a JOIN orders o ON o.id = "
        "a.order_id "
        "WHERE o.gauge_id = :p1 ORDER BY a.made_on, a.id",
        "ttrr", {gauge}, [&](const Row& row) {
            LifeEvent event = happened(row.text(0), "adjusted");
            if (!row.null(1)) add_words(event, row.text(1));
            for (const std::size_t column : {2, 3})
                if (!row.null(column))
                    event.parts.push_back(said("screw", {{"turns", row.real(column), 2, true}},
                                               {{"side", column == 2 ? "A" : "B"}}));
            life.push_back(std::move(event));
        });
}

void add_elsewhere(Database& database, Id gauge, Life& life) {
    for (const auto& one : rows_where<ElsewhereCalibration>(
             database, "WHERE t.gauge_id = :p1 ORDER BY t.calibrated_on, t.id", {gauge})) {
        LifeEvent event = happened(one.calibrated_on, "calibrated elsewhere");
        event.parts.push_back(one.laboratory.empty()
                                  ? said("elsewhere", {}, {{"certificate", one.certificate}})
                                  : said("elsewhere_by", {},
                                         {{"certificate", one.certificate}, {"laboratory", one.laboratory}}));
        for (bool first = true; const KeptPoint& point : curve_from_text(one.points)) {
            LifePart part = said("curve_point", {{"intensity_mm_h", point.reference_mm_h, 1},
                                                 {"error_percent", point.error_percent, 2, true},
                                                 {"U_percent", point.U_percent, 2}});
            part.goes_on = !std::exchange(first, false);
            event.parts.push_back(std::move(part));
        }
        life.push_back(std::move(event));
    }
}

const char* against_limit(const std::string& verdict) {
    if (verdict == "pass") return "within";
    return verdict == "fail" ? "outside" : "undecided_against";
}

void add_field_checks(Database& database, Id gauge, Life& life) {
    for (const auto& one :
         rows_where<FieldCheckEntry>(database, "WHERE t.gauge_id = :p1 ORDER BY t.made_on, t.id", {gauge})) {
        LifeEvent event = happened(one.made_on, "field check");
        event.parts.push_back(named(one.method));
        event.parts.push_back(going_on(said("tips", {{"tips", static_cast<double>(one.tips), 0}})));
        if (one.error_percent) {
            LifePart part = going_on(said("error", {{"error_percent", *one.error_percent, 1, true}}));
            if (one.U_percent) {
                part.id = "error_with_U";
                part.numbers.push_back({"U_percent", *one.U_percent, 1});
            }
            event.parts.push_back(std::move(part));
        }
        if (!one.verdict.empty() && one.limit_percent)
            event.parts.push_back(
                going_on(said(against_limit(one.verdict), {{"limit_percent", *one.limit_percent, 1}})));
        if (!one.made_by.empty()) event.parts.push_back(said("made_by", {}, {{"person", one.made_by}}));
        if (!one.accepted_for.empty())
            event.parts.push_back(said("kept_because", {}, {{"reason", one.accepted_for}}));
        add_words(event, one.note);
        life.push_back(std::move(event));
    }
}

const char* states_of(const Certificate& certificate) {
    if (certificate.as_found != 0 && certificate.as_left != 0) return "as_found_and_left";
    return certificate.as_left != 0 ? "as_left" : "as_found";
}

void add_certificates(Database& database, Id gauge, Life& life) {
    std::vector<Id> ids;
    database.each(
        "SELECT id FROM certificates WHERE gauge_id = :p1 AND state = 'issued' ORDER BY issued_at, id", "i",
        {gauge}, [&](const Row& row) { ids.push_back(row.integer(0)); });
    for (const Id id : ids) {
        const Certificate certificate = read_certificate(database, id);
        LifeEvent event = happened(date_of(certificate.issued_at), "certificate");
        event.certificate = certificate.number;
        if (certificate.refers_to.empty())
            event.parts.push_back(said(states_of(certificate)));
        else
            event.parts.push_back(
                said(certificate.kind == CertificateKind::amendment ? "amendment_of" : "replacement_of", {},
                     {{"certificate", certificate.refers_to}, {"reason", certificate.reason}}));
        // Where it moved most: the mean over the rates would hide that.
        if (const auto& drift = certificate.drift)
            event.parts.push_back(said("moved",
                                       {{"percent", drift->percent, 2}, {"at_mm_h", drift->at_mm_h, 1}},
                                       {{"since", drift->since}}));
        if (!certificate.superseded_by.empty())
            event.parts.push_back(said("replaced_by", {}, {{"certificate", certificate.superseded_by}}));
        life.push_back(std::move(event));
    }
}

}  // namespace

Result<Life> Register::life(const std::string& serial) {
    return snapshot(*impl_, [&] {
        Database& database = *impl_->database;
        Life out;
        std::vector<Id> gauges;
        database.each("SELECT id FROM gauges WHERE serial_key = :p1 ORDER BY model_key", "i",
                      {key_of(serial)}, [&](const Row& row) { gauges.push_back(row.integer(0)); });
        if (gauges.empty())
            stop(FaultCode::unknown_field, "the register has no gauge with serial " + in_quotes(serial),
                 "serial", "look for it with 'tipwright register gauge list'");
        for (const Id id : gauges) {
            const GaugeEntry gauge = row_with_id<GaugeEntry>(database, id);
            Life life;
            if (!gauge.in_service_on.empty()) {
                life.push_back(happened(gauge.in_service_on, "in service"));
                add_words(life.back(), gauge.note);
            }
            add_written(database,
                        "SELECT received_on, condition, request FROM orders WHERE gauge_id = :p1 ORDER BY "
                        "received_on, id",
                        "ttt", id, "received", life);
            add_written(
                database,
                "SELECT f.found_on, f.found, f.work_done FROM findings f JOIN orders o ON o.id = f.order_id "
                "WHERE o.gauge_id = :p1 ORDER BY f.found_on, f.id",
                "ttt", id, "finding", life);
            add_measured(database, id, life);
            add_adjustments(database, id, life);
            add_elsewhere(database, id, life);
            add_field_checks(database, id, life);
            add_certificates(database, id, life);
            std::stable_sort(life.begin(), life.end(),
                             [](const LifeEvent& a, const LifeEvent& b) { return a.on < b.on; });
            if (!gauge.due_on.empty()) {
                life.push_back(happened(gauge.due_on, "due"));
                life.back().parts.push_back(said("interval_agreed"));
            }
            for (LifeEvent& event : life) {
                event.serial = gauge.serial;
                event.model = gauge.model;
                out.push_back(std::move(event));
            }
        }
        return out;
    });
}

}  // namespace tipwright::report
