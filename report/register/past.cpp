#include "report/register/past.hpp"

#include <utility>

#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/stated_curve.hpp"

namespace tipwright::report {

Record stored_record(Register::Impl& impl, const std::string& sha256, const std::string& name) {
    Result<Record> record = record_from_json(impl.documents->get(sha256), name);
    if (!record) throw Stop{record.fault()};
    // Decided by this program, whatever wrote the record.
    state(*record);
    return std::move(*record);
}

Past look_back(Register::Impl& impl, const RecordRow& record, const std::optional<Record>& found, Id but) {
    Past out;
    std::optional<Record> last;
    for (EarlierRecord& earlier : records_before(*impl.database, record, but)) {
        last = stored_record(impl, earlier.sha256, "record of certificate " + earlier.curve.number);
        // What an earlier program kept beside it may hold steps of which nothing is stated.
        earlier.curve.points = curve_text(kept_curve(*last));
        out.history.push_back(std::move(earlier.curve));
    }
    if (!last || !found) return out;
    auto left = stated_curve(*last);
    auto now = stated_curve(*found);
    if (left && now)
        out.drift = calib::largest_drift({{std::move(*left), std::move(*now), out.history.back().on}});
    return out;
}

}  // namespace tipwright::report
