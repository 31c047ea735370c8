// Which gauges moved in service, adjustments left aside.
#include <algorithm>
#include <cmath>

#include "calib/base/dates.hpp"
#include "calib/decision/drift.hpp"
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/past.hpp"
#include "report/register/stated_curve.hpp"

namespace tipwright::report {
namespace {

// The kept curves find who may have moved by so much of the limit; the records then say by how much.
constexpr double likely = 0.8;

struct Measured {
    std::string on;
    KeptCurve found, left;
    std::string found_sha256, left_sha256;

    bool adjusted() const { return !left_sha256.empty(); }
};

struct Moved {
    std::string serial, model, kind;
    std::vector<Measured> measured;  // oldest first
};

// By the kept curves: at the intensities of the latest as-found curve, each as far back as they reach.
double roughly_moved_percent(const std::vector<Measured>& measured) {
    double worst = 0;
    if (measured.empty()) return worst;
    for (const KeptPoint& point : measured.back().found) {
        double moved = 0;
        for (std::size_t i = measured.size() - 1; i > 0; --i) {
            const Measured& earlier = measured[i - 1];
            const auto then =
                at_intensity(earlier.adjusted() ? earlier.left : earlier.found, point.reference_mm_h);
            const auto now = at_intensity(measured[i].found, point.reference_mm_h);
            if (!then || !now) break;
            moved += now->error_percent - then->error_percent;
        }
        worst = std::max(worst, std::abs(moved));
    }
    return worst;
}

std::optional<calib::ErrorCurve> curve_of(Register::Impl& impl, const std::string& sha256,
                                          const Moved& gauge) {
    if (sha256.empty()) return std::nullopt;
    return stated_curve(stored_record(impl, sha256, "a record of gauge " + gauge.serial));
}

std::optional<calib::LargestDrift> drift_of(Register::Impl& impl, const Moved& gauge) {
    std::vector<calib::CurveStretch> stretches;
    for (std::size_t i = gauge.measured.size() - 1; i > 0; --i) {
        const Measured& earlier = gauge.measured[i - 1];
        auto left = curve_of(impl, earlier.adjusted() ? earlier.left_sha256 : earlier.found_sha256, gauge);
        auto found = curve_of(impl, gauge.measured[i].found_sha256, gauge);
        if (!left || !found) break;
        stretches.push_back({std::move(*left), std::move(*found), earlier.on});
    }
    return calib::largest_drift(stretches);
}

std::vector<Moved> measured_since(Database& database, const std::string& kind, const std::string& from,
                                  const std::string& to, double least_percent) {
    std::vector<Moved> out;
    Moved gauge;
    Id id = 0;
    const auto close = [&] {
        if (gauge.measured.size() > 1 && roughly_moved_percent(gauge.measured) >= least_percent)
            out.push_back(std::move(gauge));
    };
    std::vector<Cell> parameters{from, to};
    if (!kind.empty()) parameters.emplace_back(kind);
    const std::string of_kind = kind.empty() ? "" : " AND g.kind = :p3";
    database.each(
        "SELECT g.id, g.serial, g.model, g.kind, c.calibrated_on, f.points, l.points, f.sha256, l.sha256 "
        "FROM gauges g JOIN certificates c ON c.gauge_id = g.id LEFT JOIN records f ON f.id = c.as_found_id "
        "LEFT JOIN records l ON l.id = c.as_left_id WHERE c.state = 'issued' AND c.kind <> 'amendment' AND "
        "c.calibrated_on >= :p1 AND c.calibrated_on <= :p2" +
            of_kind + " AND NOT " + is_superseded + " ORDER BY g.id, c.calibrated_on, c.id",
        "itttttttt", parameters, [&](const Row& row) {
            if (row.integer(0) != id) {
                close();
                id = row.integer(0);
                gauge = {row.text(1), row.text(2), row.text(3), {}};
            }
            gauge.measured.push_back({row.text(4), curve_from_text(row.text(5)), curve_from_text(row.text(6)),
                                      digest_of(row.text(7)), digest_of(row.text(8))});
        });
    close();
    return out;
}

}  // namespace

Result<Table> Register::drifted(const std::string& kind, double limit_percent, double years,
                                const std::string& today) {
    return snapshot(*impl_, [&] {
        check_date("today", today, true);
        if (!(limit_percent >= 0 && limit_percent <= 1000) || !(years > 0 && years <= 100))
            stop(FaultCode::bad_value, "percent must be 0 to 1000 and years above 0 up to 100", "drift");
        const double days = std::floor(years * days_in_a_year + 0.5);
        const std::string from = date_of_day(day_number(today) - static_cast<std::int64_t>(days));
        Table out{{"serial", "model", "kind", "from", "to", "drift_percent", "at_mm_h", "En"}, {}, false};
        for (const Moved& gauge :
             measured_since(*impl_->database, kind, from, today, likely * limit_percent)) {
            const auto drift = drift_of(*impl_, gauge);
            if (!drift || !(std::abs(drift->percent) > limit_percent)) continue;
            out.rows.push_back({gauge.serial, gauge.model, gauge.kind, drift->since, gauge.measured.back().on,
                                Table::Number{drift->percent, 2}, Table::Number{drift->at_mm_h, 1},
                                Table::Number{drift->En, 2}});
        }
        std::stable_sort(out.rows.begin(), out.rows.end(), [](const auto& a, const auto& b) {
            return std::abs(std::get<Table::Number>(a[5]).value) >
                   std::abs(std::get<Table::Number>(b[5]).value);
        });
        return out;
    });
}

}  // namespace tipwright::report
