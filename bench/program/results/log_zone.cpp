#include "bench/program/results/log_zone.hpp"

#include <unicode/basictz.h>
#include <unicode/timezone.h>
#include <unicode/tztrans.h>

#include <memory>

namespace tipwright::program {

namespace {

constexpr double ms = 1000;

}  // namespace

Result<LogZone> log_zone(const std::string& name) {
    LogZone out;
    if (name.empty() || calib::fixed_zone(name, out.offset_s)) return out;
    const Fault none{FaultCode::bad_value, "no time zone: " + in_quotes(name), "--zone",
                     "give the logger's distance to UTC, as +01:00, or a zone such as Europe/Vienna"};
    // ICU knows CST and EST too, as one of the zones they stand for.
    if (name.find('/') == std::string::npos || name.starts_with("Etc/")) return none;
    const std::unique_ptr<icu::TimeZone> zone(
        icu::TimeZone::createTimeZone(icu::UnicodeString::fromUTF8(name)));
    const auto* known = dynamic_cast<const icu::BasicTimeZone*>(zone.get());
    if (known == nullptr || *zone == icu::TimeZone::getUnknown()) return none;
    UErrorCode error = U_ZERO_ERROR;
    int32_t raw = 0, summer = 0;
    known->getOffset(calib::earliest_log_s * ms, false, raw, summer, error);
    if (U_FAILURE(error)) return none;
    out.changes.push_back({-1e18, (raw + summer) / ms});
    icu::TimeZoneTransition change;
    for (double at = calib::earliest_log_s;
         known->getNextTransition(at * ms, false, change) && change.getTime() < calib::latest_log_s * ms;
         at = change.getTime() / ms) {
        raw = change.getTo()->getRawOffset();
        out.changes.push_back({change.getTime() / ms, (raw + change.getTo()->getDSTSavings()) / ms});
    }
    out.offset_s = raw / ms;
    return out;
}

}  // namespace tipwright::program
