// RainAmount: how much fell in a period, as the logger has it and corrected, with an uncertainty whose parts
// are kept apart: what all tips share (rim, parameters of the rate model, drift between calibrations) and
// what they do not (scatter of single tips, the part of a tip that had not tipped at the ends). Depths mm,
// times s since 1970 UTC.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace tipwright::calib {

// The last three: of each year the minute, 5 and 60 minutes in which most fell, wherever they begin.
enum class RainPeriod { minute, event, hour, day, month, year, total, largest_1, largest_5, largest_60 };
inline constexpr std::array<std::string_view, 10> rain_period_names{
    "minute", "event", "hour",          "day",           "month",
    "year",   "total", "largest_1_min", "largest_5_min", "largest_60_min"};

struct RainAmount {
    RainPeriod period{};
    double from_s = 0;
    double until_s = 0;
    double tips = 0;            // parts of tips at the ends included
    double uncorrected_mm = 0;  // tips times the nominal depth, shared out in time alike
    double corrected_mm = 0;
    double u_common_mm = 0;  // standard uncertainties
    double u_tips_mm = 0;
    double u_filling_mm = 0;
    double u_mm = 0;
    double k = 0;
    double U_mm = 0;
    double highest_mm_h = 0;  // of the minutes (or the logger's intervals) in it
    double highest_U_mm_h = 0;
    double missing_s = 0;    // time without data
    double beyond_tips = 0;  // tips faster than the calibration reaches
};

// What the tips show that no calibration corrects, and what was done about it.
struct RainSigns {
    std::uint64_t tips = 0;
    std::uint64_t bounces = 0;          // closures within the bounce time of the one before: left out
    std::uint64_t duplicates = 0;       // the same time twice: left out
    std::uint64_t clock_set_back = 0;   // times earlier than the one before
    double clock_back_s = 0;            // largest
    std::uint64_t clock_back_line = 0;  // of the first
    std::uint64_t gaps = 0;             // stretches without data
    double missing_s = 0;
    std::uint64_t one_contact = 0;  // tips that only one of two contacts counted
    std::uint64_t contact_1 = 0;    // closures of each
    std::uint64_t contact_2 = 0;
    std::uint64_t too_fast = 0;    // tips faster than the gauge is made for, their scatter allowed for
    double fastest_s = 0;          // shortest interval of them; 0: none
    std::uint64_t beyond = 0;      // tips beyond the calibrated rates
    std::uint64_t lone_tips = 0;   // single tips a day from any other: dew, insects, vibration, leaves
    std::uint64_t flat_tails = 0;  // long steady trickles: a funnel that empties slowly
    double flat_tail_s = 0;        // longest
    double flat_tail_from_s = 0;
    double longest_silence_s = 0;
    double silence_from_s = 0;
};

}  // namespace tipwright::calib
