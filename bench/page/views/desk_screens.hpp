// Screens of what goes through the desk: logging in, putting a gauge on, certificates, the years. From facts
// to HTML; pure.
#pragma once

#include <string>
#include <vector>

#include "bench/page/desk/desk.hpp"
#include "bench/page/views/frame.hpp"

namespace tipwright::page {

// `wrong`: why the last try was refused; `next`: the path that was asked for.
Html log_in_screen(const Visitor& visitor, const PageWords& words, const std::vector<PersonAtDoor>& persons,
                   const std::string& next, const std::string& wrong);

// "Put a gauge on." `curve`: SVG of the last one; empty: none.
Html gauge_on_screen(const Visitor& visitor, const PageWords& words, const RunAhead& ahead,
                     const std::string& curve);

// "Adjust." `chart`: error before and as expected after.
Html adjust_screen(const Visitor& visitor, const PageWords& words, const AdjustmentWanted& wanted,
                   const AdjustmentSeen& seen, const std::string& chart);

struct CertificatesShown {
    report::Table open_work;
    CertificateWanted wanted;
    report::Table found;
    std::optional<CheckGaugeSeen> check_gauge;
};
Html certificates_screen(const Visitor& visitor, const PageWords& words, const CertificatesShown& shown);
// A draft to be looked at, checked, sent back, discarded, issued; or an issued one with its files.
Html certificate_screen(const Visitor& visitor, const PageWords& words,
                        const report::Certificate& certificate, const std::vector<std::string>& files,
                        const Permissions& may, const std::optional<CheckGaugeSeen>& check_gauge = {},
                        const Result<CertificateCameOut>& came_out = CertificateCameOut{});

struct YearsShown {
    report::Table due;
    report::Table instruments;
    report::Table in_tolerance;
    RecallWanted wanted;
    std::optional<report::Table> recall;
    std::string today;
};
// Of each instrument its newest calibration: the others are history.
report::Table newest_calibrations(const report::Table& instruments);
Html years_screen(const Visitor& visitor, const PageWords& words, const YearsShown& shown);
Html life_screen(const Visitor& visitor, const PageWords& words, const LifeOfGauge& life,
                 const std::vector<std::pair<std::string, std::string>>& charts);

// What is due as a calendar (RFC 5545): one all-day event for each row of Register::due. `stamp`: now, UTC.
std::string due_calendar(const report::Table& due, const PageWords& words, const std::string& stamp);

}  // namespace tipwright::page
