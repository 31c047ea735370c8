// RainReport: what tipwright rain says of a log: amounts with their uncertainty beside what the logger has
// alone, and what no calibration corrects. As CSV, JSON, PDF; mathematics in calib/rain. Depths mm,
// intensities mm/h.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/rain/rain_meter.hpp"
#include "report/certificate/stationery.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

struct RainCertificate {  // one that the correction rests on
    std::string number;
    std::string calibrated_on;
    std::string from;  // ISO date from which it is used; empty: from the beginning
    State state = State::as_left;
    std::vector<std::string> reservations;
};

struct RainReport {
    std::string gauge;  // model and serial number
    std::string serial;
    bool invented = false;
    Origin origin = Origin::real_bench;
    std::vector<RainCertificate> certificates;
    double first_calibrated_s = 0;
    double last_calibrated_s = 0;
    bool first_as_left = false;  // the first says nothing of the time before it
    bool drift_known = false;    // a later calibration says how far the gauge had moved
    // From one calibration to a later one that only says how the gauge was left: ISO dates. How far it had
    // moved in between nobody measured.
    std::vector<std::pair<std::string, std::string>> drift_unseen;
    std::string log;  // file name
    std::string log_sha256;
    std::string
        zone;  // of the log's times, where it has summer time; days are by its winter time. Else empty
    calib::RainSettings settings;
    double nominal_mm = 0;
    double highest_mm_h = 0;  // of the calibration
    calib::RainSigns signs;
    calib::RainAmount total;
    std::vector<calib::RainAmount> years, months, days;
    std::vector<calib::RainAmount> largest;  // of each year, in 1, 5 and 60 minutes
    std::vector<calib::RainAmount> events;   // the largest by amount
};

// "2031-05-04T10:11:00+01:00": local time of the report.
std::string rain_moment(double time_s, double utc_offset_s);

// "+01:00": of the report's days and months.
std::string zone_of_days(const RainReport& report);

// Heading and lines of amounts.csv and of minutes.csv; fast, for files of millions of lines.
std::string rain_csv_head(const RainReport& report, bool minutes);
void append_amount(std::string& out, const calib::RainAmount& amount, double utc_offset_s);
void append_minute(std::string& out, const calib::RainAmount& amount, double utc_offset_s, double per_hour);

// Of a log of years days and events are most of the document: it is written piece by piece, the events as
// they were when they came, each as its own text with commas between.
void write_rain_json(const RainReport& report, const std::function<void(std::string_view)>& append,
                     const std::function<void()>& append_events);
std::string rain_row_json(const calib::RainAmount& amount, double utc_offset_s);
// An event among the largest ones, if it is one of them.
// Of the periods of `largest`; 0: none of them.
int minutes_of(calib::RainPeriod period);
// Of all years, in 1, 5 and 60 minutes as far as they are known.
std::vector<calib::RainAmount> largest_of_all(const RainReport& report);
void keep_largest(std::vector<calib::RainAmount>& events, const calib::RainAmount& event);
// For a terminal.
// An hour or more of it is without data: a gap, or outside the log. Its amount is that of the rest.
bool is_part(const calib::RainAmount& amount);
std::string rain_text(const RainReport& report);
// What is known of no part of the time, and so not in U.
std::vector<std::string> rain_unknown_sentences(const RainReport& report, const certificate::Words& words);
// Sentences of the signs, and what is not corrected, in the words' language.
std::vector<std::string> rain_sign_sentences(const RainReport& report, const certificate::Words& words);

// Faults: those of the fonts.
Result<std::string> draw_rain(const RainReport& report, const Stationery& paper);

}  // namespace tipwright::report
