// Life of a gauge: everything the register knows of it, in order of time.
#include <algorithm>

#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/kept_curve.hpp"

namespace tipwright::report {
namespace {

struct Event {
    std::string when;
    std::string what;
    std::string detail;
    std::string number;
};

void add_events(Database& database, const char* sql, const char* columns, Id gauge, const std::string& what,
                std::vector<Event>& events) {
    database.each(sql, columns, {gauge}, [&](const Row& row) {
        std::string detail;
        for (std::size_t i = 1; i < row.cells.size(); ++i)
            if (!row.null(i)) add_part(detail, row.text(i));
        events.push_back({row.text(0), what, detail, ""});
    });
}

// "screw of A +0.25 turns": clockwise above zero.
void add_adjustments(Database& database, Id gauge, std::vector<Event>& events) {
    database.each(
        "SELECT a.made_on, a.work_done, a.turns_a, a.turns_b FROM adjustments a JOIN orders o ON o.id = "
        "a.order_id "
        "WHERE o.gauge_id = :p1 ORDER BY a.made_on, a.id",
        "ttrr", {gauge}, [&](const Row& row) {
            std::string detail = row.null(1) ? "" : row.text(1);
            for (const std::size_t column : {2, 3}) {
                if (row.null(column)) continue;
                const double turns = row.real(column);
                add_part(detail, std::string("screw of ") + (column == 2 ? "A" : "B") + " " +
                                     (turns > 0 ? "+" : "") + calib::fixed(turns, 2) + " turns");
            }
            events.push_back({row.text(0), "adjusted", detail, ""});
        });
}

// "20.0 mm/h: +1.23 % ± 0.45 %" a point.
std::string points_text(const std::string& points) {
    std::string out;
    for (const KeptPoint& point : curve_from_text(points))
        out += std::string(out.empty() ? "" : ", ") + calib::fixed(point.reference_mm_h, 1) +
               " mm/h: " + (point.error_percent > 0 ? "+" : "") + calib::fixed(point.error_percent, 2) +
               " % ± " + calib::fixed(point.U_percent, 2) + " %";
    return out;
}

void add_elsewhere(Database& database, Id gauge, std::vector<Event>& events) {
    for (const auto& one : rows_where<ElsewhereCalibration>(
             database, "WHERE t.gauge_id = :p1 ORDER BY t.calibrated_on, t.id", {gauge})) {
        std::string detail = "certificate " + one.certificate + " by " +
                             (one.laboratory.empty() ? "another laboratory" : one.laboratory);
        add_part(detail, points_text(one.points));
        events.push_back({one.calibrated_on, "calibrated elsewhere", detail, ""});
    }
}

void add_field_checks(Database& database, Id gauge, std::vector<Event>& events) {
    for (const auto& one :
         rows_where<FieldCheckEntry>(database, "WHERE t.gauge_id = :p1 ORDER BY t.made_on, t.id", {gauge})) {
        std::string detail = one.method + ", " + std::to_string(one.tips) + " tips";
        if (one.error_percent)
            detail += std::string(", error ") + (*one.error_percent > 0 ? "+" : "") +
                      calib::fixed(*one.error_percent, 1) + " %";
        if (one.U_percent) detail += " ± " + calib::fixed(*one.U_percent, 1) + " %";
        if (!one.verdict.empty() && one.limit_percent)
            detail += ", " + one.verdict + " against ±" + calib::fixed(*one.limit_percent, 1) + " %";
        if (!one.made_by.empty()) detail += "; by " + one.made_by;
        if (!one.accepted_for.empty()) detail += "; kept because: " + one.accepted_for;
        add_part(detail, one.note);
        events.push_back({one.made_on, "field check", detail, ""});
    }
}

void add_certificates(Database& database, Id gauge, std::vector<Event>& events) {
    std::vector<Id> ids;
    database.each(
        "SELECT id FROM certificates WHERE gauge_id = :p1 AND state = 'issued' ORDER BY issued_at, id", "i",
        {gauge}, [&](const Row& row) { ids.push_back(row.integer(0)); });
    for (const Id id : ids) {
        const Certificate certificate = read_certificate(database, id);
        std::string detail;
        if (certificate.as_found != 0 && certificate.as_left != 0)
            detail = "as found and as left";
        else
            detail = certificate.as_left != 0 ? "as left" : "as found";
        if (!certificate.refers_to.empty())
            detail = std::string(name_of(certificate.kind)) + " of " + certificate.refers_to + ": " +
                     certificate.reason;
        if (certificate.drift)
            detail += "; moved " + calib::fixed(certificate.drift->percent, 2) + " % since " +
                      certificate.drift->since;
        if (!certificate.superseded_by.empty()) detail += "; replaced by " + certificate.superseded_by;
        events.push_back({date_of(certificate.issued_at), "certificate", detail, certificate.number});
    }
}

}  // namespace

Result<Table> Register::life(const std::string& serial) {
    return snapshot(*impl_, [&] {
        Database& database = *impl_->database;
        Table out{{"serial", "model", "date", "event", "certificate", "detail"}, {}, false};
        std::vector<Id> gauges;
        database.each("SELECT id FROM gauges WHERE serial_key = :p1 ORDER BY model_key", "i",
                      {key_of(serial)}, [&](const Row& row) { gauges.push_back(row.integer(0)); });
        if (gauges.empty())
            stop(FaultCode::unknown_field, "the register has no gauge with serial " + in_quotes(serial),
                 "serial", "look for it with 'tipwright register gauge list'");
        for (const Id id : gauges) {
            const GaugeEntry gauge = row_with_id<GaugeEntry>(database, id);
            std::vector<Event> events;
            if (!gauge.in_service_on.empty())
                events.push_back({gauge.in_service_on, "in service", gauge.note, ""});
            add_events(database,
                       "SELECT received_on, condition, request FROM orders WHERE gauge_id = :p1 ORDER BY "
                       "received_on, id",
                       "ttt", id, "received", events);
            add_events(
                database,
                "SELECT f.found_on, f.found, f.work_done FROM findings f JOIN orders o ON o.id = f.order_id "
                "WHERE o.gauge_id = :p1 ORDER BY f.found_on, f.id",
                "ttt", id, "finding", events);
            add_events(
                database,
                "SELECT substr(u.ended_at, 1, 10), replace(r.state, '_', ' '), replace(r.verdict, "
                "'_', ' '), u.bench FROM records r "
                "JOIN runs u ON u.id = r.run_id WHERE u.gauge_id = :p1 AND r.id = (SELECT max(n.id) FROM "
                "records n WHERE n.run_id = r.run_id AND n.state = r.state) ORDER BY u.ended_at, r.id",
                "tttt", id, "measured", events);
            add_adjustments(database, id, events);
            add_elsewhere(database, id, events);
            add_field_checks(database, id, events);
            add_certificates(database, id, events);
            std::stable_sort(events.begin(), events.end(),
                             [](const Event& a, const Event& b) { return a.when < b.when; });
            if (!gauge.due_on.empty())
                events.push_back({gauge.due_on, "due", "interval agreed with the customer", ""});
            for (const Event& event : events)
                out.rows.push_back({gauge.serial, gauge.model, event.when, event.what,
                                    event.number.empty() ? Table::Value() : Table::Value(event.number),
                                    event.detail});
        }
        return out;
    });
}

}  // namespace tipwright::report
