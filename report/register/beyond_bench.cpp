#include "report/register/dates.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {

Result<std::vector<ElsewhereCalibration>> Register::calibrations_elsewhere(Id gauge) {
    return answered([&] {
        return rows_where<ElsewhereCalibration>(
            *impl_->database, "WHERE t.gauge_id = :p1 ORDER BY t.calibrated_on, t.id", {gauge});
    });
}

Result<Id> Register::add_field_check(const Actor& actor, const FieldCheckEntry& check) {
    return written(*impl_, actor, Permission::measure, [&](Writer& writer) {
        row_with_id<GaugeEntry>(writer.database, check.gauge);
        check_past("made_on", check.made_on, actor.now);
        FieldCheckEntry entered = check;
        entered.id = 0;
        entered.person = writer.person;
        return writer.put(entered);
    });
}

}  // namespace tipwright::report
