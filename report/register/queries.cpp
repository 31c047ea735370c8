// Questions people ask the register. Each answers with a table.
#include <algorithm>
#include <cmath>
#include <map>

#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"

namespace tipwright::report {
namespace {

Table::Value number_of(const Row& row, std::size_t bench) {
    if (row.null(bench)) return {};
    return number_text(row.text(bench), row.integer(bench + 1), row.integer(bench + 2));
}

// "2031-05" gives "2031-05-01" and, with `after`, the first day of the month after.
std::string first_of_month(const std::string& field, const std::string& month, bool after) {
    const std::string day = month + "-01";
    check_date(field, day, true);
    return after ? add_months(day, 1) : day;
}

constexpr const char* never_calibrated = "never calibrated";

// A pattern of LIKE, with ! before what would mean more than itself.
std::string holding(const std::string& part) {
    std::string out = "%";
    for (const char c : part) {
        if (c == '%' || c == '_' || c == '!') out += '!';
        out += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    }
    return out + "%";
}

}  // namespace

Result<std::int64_t> Register::never_due() {
    return snapshot(*impl_, [&] {
        return impl_->database
            ->row("SELECT count(*) FROM gauges WHERE due_on IS NULL AND last_calibrated_on IS NOT NULL", "i")
            ->integer(0);
    });
}

Result<Table> Register::due(const ListFilter& filter) {
    return snapshot(*impl_, [&] {
        Database& database = *impl_->database;
        std::vector<Cell> parameters;
        // A gauge that was never calibrated is due as it stands.
        std::string where = "(g.due_on IS NOT NULL OR g.last_calibrated_on IS NULL)";
        const auto add_part = [&](const std::string& column, const std::string& name,
                                  const std::string& table, const std::string& what) {
            const std::string pattern = holding(name);
            if (!database.row("SELECT id FROM " + table + " WHERE lower(name) LIKE :p1 ESCAPE '!'", "i",
                              {pattern}))
                stop(FaultCode::unknown_field,
                     "the register has no " + what + " whose name holds " + in_quotes(name), what);
            parameters.emplace_back(pattern);
            where += " AND lower(" + column + ") LIKE :p" + std::to_string(parameters.size()) + " ESCAPE '!'";
        };
        if (filter.customer.empty() && !filter.station.empty())
            stop(FaultCode::missing_field, "a station is identified by its customer too", "customer");
        if (!filter.customer.empty()) add_part("c.name", filter.customer, "customers", "customer");
        if (!filter.station.empty()) add_part("s.name", filter.station, "stations", "station");
        const auto add_due = [&](const std::string& condition, const std::string& day) {
            parameters.emplace_back(day);
            where += " AND (g.due_on IS NULL OR g.due_on " + condition + " :p" +
                     std::to_string(parameters.size()) + ")";
        };
        if (!filter.from_month.empty()) add_due(">=", first_of_month("from_month", filter.from_month, false));
        if (!filter.to_month.empty()) add_due("<", first_of_month("to_month", filter.to_month, true));
        parameters.emplace_back(static_cast<std::int64_t>(filter.limit) + 1);
        Table out{{"due_on", "serial", "model", "kind", "customer", "station", "last_calibrated_on",
                   "calibrated", "interval_months"},
                  {},
                  false};
        database.each(
            "SELECT g.due_on, g.serial, g.model, g.kind, c.name, s.name, g.last_calibrated_on, " +
                std::string(last_calibrated_where_sql) +
                ", coalesce(g.interval_months, c.interval_months) FROM gauges g LEFT JOIN customers c ON "
                "c.id = "
                "g.customer_id "
                "LEFT JOIN stations s ON s.id = g.station_id WHERE " +
                where + " ORDER BY coalesce(g.due_on, ''), g.id LIMIT :p" + std::to_string(parameters.size()),
            "tttttttti", parameters, [&](const Row& row) {
                if (out.rows.size() == filter.limit) {
                    out.cut = true;
                    return;
                }
                const bool never = row.null(0);
                out.rows.push_back({never ? Table::Value(std::string(never_calibrated)) : text_value(row, 0),
                                    text_value(row, 1), text_value(row, 2), text_value(row, 3),
                                    text_value(row, 4), text_value(row, 5), text_value(row, 6),
                                    text_value(row, 7),
                                    row.null(8) ? Table::Value() : Table::Value(row.integer(8))});
            });
        return out;
    });
}

namespace {

Table recall_rows(Database& database, Id instrument, const std::string& from, const std::string& to,
                  std::size_t limit) {
    check_date("from", from, true);
    check_date("to", to, true);
    if (!database.row("SELECT id FROM instruments WHERE id = :p1", "i", {instrument}))
        stop(FaultCode::unknown_field, "the register has no instrument " + std::to_string(instrument),
             "instrument");
    Table out{{"certificate", "used_on", "serial", "model", "customer", "contact", "calibration", "replaced"},
              {},
              false};
    database.each(
        std::string("SELECT n.bench, n.year, c.sequence, cc.used_on, g.serial, g.model, u.name, u.contact, "
                    "k.certificate, "
                    "CASE WHEN ") +
            is_superseded +
            " THEN 1 ELSE 0 END FROM calibrations k JOIN certificate_calibrations cc ON cc.calibration_id = "
            "k.id "
            "JOIN certificates c ON c.id = cc.certificate_id JOIN number_series n ON n.id = c.series_id "
            "JOIN gauges g ON g.id = c.gauge_id LEFT JOIN customers u ON u.id = g.customer_id "
            "WHERE k.instrument_id = :p1 AND cc.used_on >= :p2 AND cc.used_on <= :p3 "
            "ORDER BY cc.used_on, n.bench, n.year, c.sequence LIMIT :p4",
        "tiitttttti", {instrument, from, to, static_cast<std::int64_t>(limit) + 1}, [&](const Row& row) {
            if (out.rows.size() == limit) {
                out.cut = true;
                return;
            }
            out.rows.push_back({number_of(row, 0), text_value(row, 3), text_value(row, 4), text_value(row, 5),
                                text_value(row, 6), text_value(row, 7), text_value(row, 8),
                                std::string(row.integer(9) != 0 ? "yes" : "no")});
        });
    return out;
}

}  // namespace

Result<Table> Register::recall(Id instrument, const std::string& from, const std::string& to,
                               std::size_t limit) {
    return snapshot(*impl_, [&] { return recall_rows(*impl_->database, instrument, from, to, limit); });
}

Result<Table> Register::instrument_failed(const Actor& actor, Id instrument, const std::string& good_until,
                                          const std::string& found_on, const std::string& found) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        check_date("good_until", good_until, true);
        check_date("found_on", found_on, true);
        if (found_on < good_until)
            stop(FaultCode::inconsistent, "the fault was found before the instrument was last good",
                 "found_on");
        if (found.empty()) stop(FaultCode::missing_field, "what was found is not given", "found");
        Table out = recall_rows(writer.database, instrument, good_until, found_on, 1000000);
        writer.put(InstrumentFault{0, instrument, good_until, found_on, found});
        return out;
    });
}

Result<Table> Register::in_tolerance(const std::string& kind) {
    return snapshot(*impl_, [&] {
        struct Count {
            std::int64_t all = 0;
            std::int64_t pass = 0;
            std::int64_t fail = 0;
            std::int64_t undecided = 0;
        };
        std::map<std::pair<std::string, std::int64_t>, Count> counts;
        std::string first;
        Id gauge = 0;
        std::vector<Cell> parameters;
        if (!kind.empty()) parameters.emplace_back(kind);
        impl_->database->each(
            std::string(
                "SELECT g.id, g.kind, g.in_service_on, c.calibrated_on, substr(u.ended_at, 1, 10), r.verdict "
                "FROM gauges g JOIN certificates c ON c.gauge_id = g.id LEFT JOIN records r ON r.id = "
                "c.as_found_id "
                "LEFT JOIN runs u ON u.id = r.run_id WHERE c.state = 'issued' AND c.kind <> 'amendment'") +
                (kind.empty() ? "" : " AND g.kind = :p1") + " AND NOT " + is_superseded +
                " ORDER BY g.id, c.calibrated_on, c.id",
            "ittttt", parameters, [&](const Row& row) {
                if (row.integer(0) != gauge) {
                    gauge = row.integer(0);
                    first = row.text(2).empty() ? row.text(3) : row.text(2);
                }
                if (row.null(5) || row.text(5) == "no_limit" || row.text(5) == "not_stated") return;
                const double age = std::max(0.0, years_between(first, row.text(4)));
                Count& count = counts[{row.text(1), static_cast<std::int64_t>(age)}];
                ++count.all;
                if (row.text(5) == "pass") ++count.pass;
                if (row.text(5) == "fail") ++count.fail;
                if (row.text(5) == "undecided") ++count.undecided;
            });
        Table out{
            {"kind", "age_years", "found", "within", "outside", "undecided", "within_percent"}, {}, false};
        for (const auto& [key, count] : counts)
            out.rows.push_back(
                {key.first, key.second, count.all, count.pass, count.fail, count.undecided,
                 Table::Number{100.0 * static_cast<double>(count.pass) / static_cast<double>(count.all), 1}});
        return out;
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
