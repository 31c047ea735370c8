#include "report/register/serials.hpp"

#include <filesystem>

#include "report/register/connection.hpp"
#include "report/register/database.hpp"

namespace tipwright::report {

namespace {

struct Source {
    const char* text;  // what is typed of it
    const char* from;
    const char* which;
    const char* order;
};

Source source_of(Listed what) {
    switch (what) {
        case Listed::gauge_serials:
            return {"serial", "gauges", "1", "serial"};
        case Listed::instrument_serials:
            return {"serial", "instruments", "1", "serial"};
        case Listed::certificates:
            return {"s.bench || '-' || s.year || '-' || format('%05d', c.sequence)",
                    "certificates c JOIN number_series s ON s.id = c.series_id", "c.state = 'issued'",
                    "c.id DESC"};
        case Listed::drafts:
            return {"CAST(id AS TEXT)", "certificates", "state = 'draft'", "id DESC"};
        case Listed::checked_drafts:
            return {"CAST(id AS TEXT)", "certificates", "state = 'checked'", "id DESC"};
        case Listed::people:
            return {"name", "people", "active = 1", "name"};
        case Listed::customers:
            break;
    }
    return {"name", "customers", "1", "name"};
}

}  // namespace

std::vector<std::string> listed(Listed what, const std::string& location, const std::string& prefix,
                                std::size_t limit) {
    std::vector<std::string> out;
    if (is_postgresql(location)) return out;
    const Source source = source_of(what);
    const std::string text = source.text;
    try {
        const auto database =
            Database::look_at_sqlite((std::filesystem::path(location) / "register.sqlite").string(), 1);
        database->each("SELECT " + text + " FROM " + source.from + " WHERE " + source.which + " AND substr(" +
                           text + ", 1, length(:p1)) = :p1 GROUP BY " + text + " ORDER BY " + source.order +
                           " LIMIT :p2",
                       "t", {prefix, static_cast<std::int64_t>(limit)},
                       [&](const Row& row) { out.push_back(row.text(0)); });
    } catch (const Stop&) {
        out.clear();
    }
    return out;
}

}  // namespace tipwright::report
