// Of gauges that came back, how many were within their limits as found.
#include <algorithm>
#include <map>

#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"

namespace tipwright::report {

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

}  // namespace tipwright::report
