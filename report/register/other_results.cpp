#include "report/register/other_results.hpp"

#include "report/register/dates.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {

OtherResults::OtherResults(std::unique_ptr<Register::Impl> impl) : impl_(std::move(impl)) {}
OtherResults::~OtherResults() = default;
OtherResults::OtherResults(OtherResults&&) noexcept = default;
OtherResults& OtherResults::operator=(OtherResults&&) noexcept = default;

Result<OtherResults> OtherResults::open(const std::string& location, const std::string& now) {
    // Looks whether it is whole, and brings its schema up to date.
    if (auto whole = Register::open(location, now); !whole) return whole.fault();
    return answered([&] { return OtherResults(Register::Impl::open(location, false)); });
}

Result<std::vector<ElsewhereCalibration>> OtherResults::calibrations(Id gauge) {
    return answered([&] {
        return rows_where<ElsewhereCalibration>(
            *impl_->database, "WHERE t.gauge_id = :p1 ORDER BY t.calibrated_on, t.id", {gauge});
    });
}

Result<Id> OtherResults::add_field_check(const Actor& actor, const FieldCheckEntry& check) {
    return written(*impl_, actor, Permission::measure, [&](Writer& writer) {
        row_with_id<GaugeEntry>(writer.database, check.gauge);
        check_date("made_on", check.made_on, true);
        if (check.made_on > date_of(actor.now))
            stop(FaultCode::inconsistent, check.made_on + " is after today, " + date_of(actor.now),
                 "made_on");
        FieldCheckEntry entered = check;
        entered.id = 0;
        entered.person = writer.person;
        return writer.put(entered);
    });
}

}  // namespace tipwright::report
