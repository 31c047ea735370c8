#include "report/register/serials.hpp"

#include <filesystem>

#include "report/register/connection.hpp"
#include "report/register/database.hpp"

namespace tipwright::report {

std::vector<std::string> gauge_serials(const std::string& location, const std::string& prefix,
                                       std::size_t limit) {
    std::vector<std::string> out;
    if (is_postgresql(location)) return out;
    try {
        const auto database =
            Database::look_at_sqlite((std::filesystem::path(location) / "register.sqlite").string());
        database->each(
            "SELECT DISTINCT serial FROM gauges WHERE substr(serial, 1, length(:p1)) = :p1 ORDER BY serial "
            "LIMIT :p2",
            "t", {prefix, static_cast<std::int64_t>(limit)},
            [&](const Row& row) { out.push_back(row.text(0)); });
    } catch (const Stop&) {
        out.clear();
    }
    return out;
}

}  // namespace tipwright::report
