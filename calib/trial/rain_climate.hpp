// RainClimate: how much rain falls at which intensity in a year, and of what the largest 1-, 5- and 60-minute
// amounts of a year are made. From 1-minute intensities in their order, or from how much of the time an
// intensity is exceeded, where nothing is known of the order: then the worst minutes of a year are taken to
// fall together, an upper bound of the 5- and 60-minute amounts.
// Intensities mm/h over one minute; amounts mm; exceedance in per cent of the whole time.
// Faults: too_few_points, bad_value (not descending, outside its range), not_finite.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::calib::trial {

struct RainPart {
    double intensity_mm_h = 0;
    double minutes = 0;
};

struct RainMaximum {
    int minutes = 0;
    std::vector<RainPart> parts;  // of the largest amount in a year; of several years all their largest ones
    double amount_mm = 0;         // mean of the years
};

inline constexpr std::array maximum_minutes{1, 5, 60};

struct RainClimate {
    std::string name;
    std::vector<RainPart> parts;  // of a mean year, ascending intensity
    double amount_mm = 0;
    std::array<RainMaximum, maximum_minutes.size()> maxima;
    double years = 0;  // of minutes read; 0: from exceedances
};

struct Exceedance {
    double percent = 0;
    double intensity_mm_h = 0;
};

struct ExceedanceRange {
    double widest_percent = 10;  // rain falls in no more of the time (common practice, no source)
    double least_mm_h = 0.1;     // below it is no rain
};

// Between two rows, and beyond the first and the last, straight in the logarithms of both.
Result<RainClimate> climate_of_exceedance(const std::string& name, std::vector<Exceedance> rows,
                                          const ExceedanceRange& range = {});

// Rain that falls in wet_percent of the time, its intensity distributed by a law with these two parameters:
// lognormal median, standard deviation of the logarithm; gamma and weibull shape, scale (mm/h);
// exponential mean (second parameter not used).
enum class RainLaw { lognormal, gamma, weibull, exponential };
Result<RainClimate> climate_of_law(const std::string& name, RainLaw law, double first, double second,
                                   double wet_percent);

// One wet minute: its number from any origin, and its intensity. Dry minutes need not be given.
struct RainMinute {
    std::int64_t minute = 0;
    double intensity_mm_h = 0;
};
// minutes ascending; span: all minutes that were watched, dry ones too. Its largest amounts are of whole
// minutes by the clock: a window that may begin at any second holds more, of one minute by 13 % in the mean,
// of five by 2 to 3 %, of sixty by less than 1 % (Hershfield 1961; WMO-No. 168; from memory).
Result<RainClimate> climate_of_minutes(const std::string& name, const std::vector<RainMinute>& minutes,
                                       std::int64_t span);

// Times of tips (s, ascending) to minutes: a tip's depth is spread over the interval before it, no longer
// than longest_s: what fell before an isolated tip is not known better.
inline constexpr double longest_tip_interval_s = 1800;
std::vector<RainMinute> minutes_of_tips(const std::vector<double>& tips_s, double tip_mm);
// The same, with the largest amounts of windows that slide freely over the tips' spread depths: the largest
// begins or ends at a tip, as between tips the amount in a window is straight in its place. As parts its
// minutes, counted from its beginning.
Result<RainClimate> climate_of_tips(const std::string& name, const std::vector<double>& tips_s,
                                    double tip_mm);

}  // namespace tipwright::calib::trial
