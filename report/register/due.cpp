// Which gauges are due, and how many never come due.
#include "calib/base/dates.hpp"
#include "calib/base/text.hpp"
#include "report/register/dates.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

// "2031-05" gives "2031-05-01" and, with `after`, the first day of the month after.
std::string first_of_month(const std::string& field, const std::string& month, bool after) {
    const std::string day = month + "-01";
    if (!is_iso_date(day))
        stop(FaultCode::bad_value, in_quotes(month) + " is not a month", field, "write it as 2031-05");
    return after ? add_months(day, 1) : day;
}

constexpr const char* never_calibrated = "never calibrated";

// A pattern of LIKE, with ! before what would mean more than itself.
std::string holding(const std::string& part) {
    std::string out = "%";
    for (const char c : small_letters(part)) {
        if (c == '%' || c == '_' || c == '!') out += '!';
        out += c;
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
        if (!filter.from_month.empty() && !filter.to_month.empty() && filter.to_month < filter.from_month)
            stop(FaultCode::inconsistent,
                 "the time ends in " + filter.to_month + ", before it begins in " + filter.from_month,
                 "to_month", "give the earlier month first");
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

}  // namespace tipwright::report
