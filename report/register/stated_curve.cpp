#include "report/register/stated_curve.hpp"

#include "calib/base/dates.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/dates.hpp"

namespace tipwright::report {

std::optional<calib::ErrorCurve> stated_curve(const Record& record) {
    const std::string day = (record.ended_at.empty() ? record.started_at : record.ended_at).substr(0, 10);
    const double years = static_cast<double>(day_number(day)) / days_in_a_year;
    auto curve = calib::error_curve(record.identity.serial + " " + record.started_at, years,
                                    stated_steps(record), record.source_sha256);
    if (!curve || curve->at_rest) return std::nullopt;
    return std::move(*curve);
}

}  // namespace tipwright::report
