// Lists of what the register keeps, and the certificates that stand.
#include <algorithm>

#include "report/register/certificates.hpp"
#include "report/register/impl.hpp"
#include "report/register/past.hpp"

namespace tipwright::report {

Owner owner_of(Database& database, const ListFilter& filter) {
    Owner out;
    if (filter.customer.empty()) {
        if (!filter.station.empty())
            stop(FaultCode::missing_field, "a station is identified by its customer too", "customer");
        return out;
    }
    out.customer = find_customer(database, filter.customer);
    if (out.customer == 0)
        stop(FaultCode::unknown_field, "the register has no customer " + in_quotes(filter.customer),
             "customer");
    if (filter.station.empty()) return out;
    const std::optional<Row> station =
        database.row("SELECT id FROM stations WHERE customer_id = :p1 AND name = :p2", "i",
                     {out.customer, filter.station});
    if (!station)
        stop(FaultCode::unknown_field, "this customer has no station " + in_quotes(filter.station),
             "station");
    out.station = station->integer(0);
    return out;
}

Table::Value text_value(const Row& row, std::size_t column) {
    if (row.null(column) || row.text(column).empty()) return {};
    return row.text(column);
}

namespace {

// Conditions of a filter on the tables named in SQL as g (gauges).
struct Conditions {
    std::string sql = " WHERE 1 = 1";
    std::vector<Cell> cells;
    void add(const std::string& condition, Cell cell) {
        cells.push_back(std::move(cell));
        sql += " AND " + condition + " :p" + std::to_string(cells.size());
    }
    std::string limit(std::size_t rows) {
        cells.emplace_back(static_cast<std::int64_t>(rows) + 1);
        return " LIMIT :p" + std::to_string(cells.size());
    }
};

Conditions conditions_of(Database& database, const ListFilter& filter) {
    Conditions out;
    const Owner owner = owner_of(database, filter);
    if (owner.customer != 0) out.add("g.customer_id =", owner.customer);
    if (owner.station != 0) out.add("g.station_id =", owner.station);
    if (!filter.serial.empty()) out.add("g.serial_key =", key_of(filter.serial));
    return out;
}

// Columns by letter: t text, i whole number. Stops at the limit and says so.
void fill(Database& database, const std::string& sql, const std::string& types, std::vector<Cell> cells,
          std::size_t limit, Table& out) {
    database.each(sql, types, std::move(cells), [&](const Row& row) {
        if (out.rows.size() == limit) {
            out.cut = true;
            return;
        }
        std::vector<Table::Value> line;
        for (std::size_t i = 0; i < row.cells.size(); ++i) {
            line.emplace_back();
            if (types[i] == 't')
                line.back() = text_value(row, i);
            else if (!row.null(i))
                line.back() = row.integer(i);
        }
        out.rows.push_back(std::move(line));
    });
}

}  // namespace

Result<Table> Register::list_customers() {
    return snapshot(*impl_, [&] {
        Table out{{"customer", "address", "contact", "interval_months", "agreed"}, {}, false};
        fill(*impl_->database,
             "SELECT name, address, contact, interval_months, interval_agreed FROM customers ORDER BY name",
             "tttit", {}, 1000000, out);
        return out;
    });
}

Result<Table> Register::list_stations(const ListFilter& filter) {
    return snapshot(*impl_, [&] {
        const Owner owner = owner_of(*impl_->database, filter);
        Conditions conditions;
        if (owner.customer != 0) conditions.add("s.customer_id =", owner.customer);
        Table out{{"customer", "station", "place", "gauges"}, {}, false};
        const std::string limit = conditions.limit(filter.limit);
        fill(*impl_->database,
             "SELECT c.name, s.name, s.place, (SELECT count(*) FROM gauges g WHERE g.station_id = s.id) "
             "FROM stations s JOIN customers c ON c.id = s.customer_id" +
                 conditions.sql + " ORDER BY c.name, s.name" + limit,
             "ttti", conditions.cells, filter.limit, out);
        return out;
    });
}

Result<Table> Register::list_gauges(const ListFilter& filter) {
    return snapshot(*impl_, [&] {
        Conditions conditions = conditions_of(*impl_->database, filter);
        Table out{
            {"serial", "model", "kind", "customer", "station", "last_calibrated_on", "due_on", "calibrated"},
            {},
            false};
        const std::string limit = conditions.limit(filter.limit);
        fill(*impl_->database,
             "SELECT g.serial, g.model, g.kind, c.name, s.name, g.last_calibrated_on, g.due_on, " +
                 std::string(last_calibrated_where_sql) +
                 " FROM gauges g "
                 "LEFT JOIN customers c ON c.id = g.customer_id LEFT JOIN stations s ON s.id = g.station_id" +
                 conditions.sql + " ORDER BY g.serial_key, g.model_key" + limit,
             "tttttttt", conditions.cells, filter.limit, out);
        return out;
    });
}

Result<Table> Register::list_instruments() {
    return snapshot(*impl_, [&] {
        Table out{{"serial", "role", "description", "bench", "certificate", "calibrated_on", "due_on",
                   "found_faulty_on"},
                  {},
                  false};
        // A calibration made since then ends a fault, as recall.cpp has it.
        fill(*impl_->database,
             "SELECT i.serial, i.role, i.description, i.bench, k.certificate, k.calibrated_on, k.due_on, "
             "(SELECT MAX(f.found_on) FROM instrument_faults f WHERE f.instrument_id = i.id AND "
             "(k.calibrated_on IS NULL OR f.found_on > k.calibrated_on)) FROM "
             "instruments i LEFT JOIN calibrations k ON k.instrument_id = i.id "
             "ORDER BY i.role, i.serial, i.id, k.calibrated_on, k.id",
             "tttttttt", {}, 1000000, out);
        return out;
    });
}

Result<Table> Register::list_orders(const ListFilter& filter, bool open_only) {
    return snapshot(*impl_, [&] {
        Conditions conditions = conditions_of(*impl_->database, filter);
        if (open_only) conditions.add("o.closed_on =", std::string());
        Table out{
            {"order", "serial", "model", "received_on", "condition", "request", "closed_on"}, {}, false};
        const std::string limit = conditions.limit(filter.limit);
        fill(*impl_->database,
             "SELECT o.id, g.serial, g.model, o.received_on, o.condition, o.request, o.closed_on FROM orders "
             "o "
             "JOIN gauges g ON g.id = o.gauge_id" +
                 conditions.sql + " ORDER BY o.received_on, o.id" + limit,
             "itttttt", conditions.cells, filter.limit, out);
        return out;
    });
}

Result<Table> Register::list_certificates(const ListFilter& filter) {
    return snapshot(*impl_, [&] {
        Conditions conditions = conditions_of(*impl_->database, filter);
        Table out{{"certificate", "draft", "state", "serial", "calibrated_on", "kind_of_document",
                   "refers_to", "issued_by"},
                  {},
                  false};
        const std::string limit = conditions.limit(filter.limit);
        std::vector<Id> ids;
        impl_->database->each("SELECT c.id FROM certificates c JOIN gauges g ON g.id = c.gauge_id" +
                                  conditions.sql + " ORDER BY c.id DESC" + limit,
                              "i", conditions.cells, [&](const Row& row) { ids.push_back(row.integer(0)); });
        out.cut = ids.size() > filter.limit;
        if (out.cut) ids.pop_back();
        const auto text = [](const std::string& value) -> Table::Value {
            if (value.empty()) return {};
            return value;
        };
        for (auto id = ids.rbegin(); id != ids.rend(); ++id) {
            const Certificate certificate = read_certificate(*impl_->database, *id);
            std::string state(name_of(certificate.state));
            if (!certificate.superseded_by.empty()) state = "replaced by " + certificate.superseded_by;
            out.rows.push_back({text(certificate.number), certificate.id, text(state),
                                text(certificate.serial), text(certificate.calibrated_on),
                                std::string(name_of(certificate.kind)), text(certificate.refers_to),
                                text(certificate.issued_by)});
        }
        return out;
    });
}

Result<std::vector<std::string>> Register::valid_certificates(const ListFilter& filter) {
    return snapshot(*impl_, [&] {
        Conditions conditions = conditions_of(*impl_->database, filter);
        std::vector<std::string> out;
        Id gauge = 0;
        impl_->database->each(
            "SELECT g.id, n.bench, n.year, c.sequence FROM gauges g JOIN certificates c ON c.gauge_id = g.id "
            "JOIN number_series n ON n.id = c.series_id" +
                conditions.sql +
                " AND c.state = 'issued' AND NOT EXISTS (SELECT 1 FROM certificates r WHERE r.refers_to = "
                "c.id AND r.kind = 'replacement' AND r.state = 'issued') "
                "ORDER BY g.id, c.calibrated_on DESC, c.issued_at DESC, c.id DESC",
            "itii", conditions.cells, [&](const Row& row) {
                if (row.integer(0) == gauge) return;
                gauge = row.integer(0);
                out.push_back(number_text(row.text(1), row.integer(2), row.integer(3)));
            });
        return out;
    });
}

Result<Record> Register::record(Id id) {
    return snapshot(*impl_, [&] {
        return stored_record(*impl_, read_record(*impl_->database, id).sha256,
                             "record " + std::to_string(id));
    });
}

Result<Table> Register::open_work() {
    return snapshot(*impl_, [&] {
        Table out{{"draft", "state", "serial", "model", "kind_of_document", "drafted_by", "drafted_at",
                   "checked_by"},
                  {},
                  false};
        impl_->database->each(
            "SELECT c.id, c.state, g.serial, g.model, c.kind, d.name, c.drafted_at, k.name FROM certificates "
            "c "
            "JOIN gauges g ON g.id = c.gauge_id JOIN people d ON d.id = c.drafted_by "
            "LEFT JOIN people k ON k.id = c.checked_by WHERE c.state IN ('draft', 'checked') ORDER BY c.id",
            "ittttttt", {}, [&](const Row& row) {
                out.rows.push_back({row.integer(0), text_value(row, 1), text_value(row, 2),
                                    text_value(row, 3), text_value(row, 4), text_value(row, 5),
                                    text_value(row, 6), text_value(row, 7)});
            });
        return out;
    });
}

Result<Table> Register::audit_log(std::size_t last) {
    return snapshot(*impl_, [&] {
        Table out{{"seq", "at", "person", "action", "subject", "id", "detail"}, {}, false};
        impl_->database->each(
            "SELECT seq, at, person, action, subject, subject_id, detail FROM audit ORDER BY seq DESC LIMIT "
            ":p1",
            "ittttit", {static_cast<std::int64_t>(last)}, [&](const Row& row) {
                out.rows.push_back({row.integer(0), text_value(row, 1), text_value(row, 2),
                                    text_value(row, 3), text_value(row, 4), row.integer(5),
                                    text_value(row, 6)});
            });
        std::reverse(out.rows.begin(), out.rows.end());
        return out;
    });
}

}  // namespace tipwright::report
