#include "calib/trial/rain_climate.hpp"

#include <algorithm>
#include <boost/math/distributions/exponential.hpp>
#include <boost/math/distributions/gamma.hpp>
#include <boost/math/distributions/lognormal.hpp>
#include <boost/math/distributions/weibull.hpp>
#include <cmath>
#include <functional>
#include <map>

#include "calib/statistics/boost_policy.hpp"

namespace tipwright::calib::trial {

namespace {

constexpr double minutes_in_a_year = 525960;
constexpr double most_mm_h = 2000;
constexpr int classes = 400;

// Intensity exceeded in a share of the time, descending.
using ExceededBy = std::function<double(double share)>;

RainClimate climate_of(const std::string& name, const ExceededBy& exceeded, double widest_share,
                       double least_mm_h) {
    RainClimate out;
    out.name = name;
    // Down to the one worst minute of a year, in steps that are even in the logarithm of the share.
    const double smallest = 1 / minutes_in_a_year;
    double before = widest_share;
    for (int i = 1; i <= classes + 1; ++i) {
        const double share =
            i <= classes ? widest_share * std::pow(smallest / widest_share, static_cast<double>(i) / classes)
                         : 0;
        const double middle = share > 0 ? std::sqrt(share * before) : before;
        const double intensity = std::min(exceeded(middle), most_mm_h);
        if (intensity >= least_mm_h) out.parts.push_back({intensity, (before - share) * minutes_in_a_year});
        before = share;
    }
    for (const RainPart& part : out.parts) out.amount_mm += part.intensity_mm_h * part.minutes / 60;
    for (std::size_t i = 0; i < maximum_minutes.size(); ++i) {
        RainMaximum& most = out.maxima[i];
        most.minutes = maximum_minutes[i];
        for (int minute = 1; minute <= most.minutes; ++minute) {
            const double intensity = std::min(exceeded(minute / minutes_in_a_year), most_mm_h);
            most.parts.push_back({intensity, 1});
            most.amount_mm += intensity / 60;
        }
    }
    return out;
}

Fault bad(const std::string& name, const std::string& what, const std::string& remedy) {
    return {FaultCode::bad_value, what, name, remedy};
}

}  // namespace

Result<RainClimate> climate_of_exceedance(const std::string& name, std::vector<Exceedance> rows,
                                          const ExceedanceRange& range) {
    if (rows.size() < 2)
        return Fault{FaultCode::too_few_points, "fewer than two exceedances", name,
                     "give how much of the time at least two intensities are exceeded"};
    if (!(range.widest_percent > 0 && range.widest_percent <= 100) || !(range.least_mm_h > 0))
        return bad(name, "the range of rain cannot be", "0 to 100 % of the time, above 0 mm/h");
    std::sort(rows.begin(), rows.end(),
              [](const Exceedance& a, const Exceedance& b) { return a.percent > b.percent; });
    for (std::size_t i = 0; i < rows.size(); ++i) {
        if (!(rows[i].percent > 0 && rows[i].percent <= 100) ||
            !(rows[i].intensity_mm_h > 0 && rows[i].intensity_mm_h <= most_mm_h))
            return bad(name, "an exceedance lies outside its range",
                       "0 to 100 % of the time, up to 2000 mm/h");
        if (i > 0 &&
            !(rows[i].percent < rows[i - 1].percent && rows[i].intensity_mm_h > rows[i - 1].intensity_mm_h))
            return bad(name, "exceedances do not fall as the intensity rises",
                       "the higher an intensity, the less of the time it is exceeded");
    }
    const auto exceeded = [&rows](double share) {
        const double percent = 100 * share;
        std::size_t i = 1;
        while (i + 1 < rows.size() && percent < rows[i].percent) ++i;
        const double x = std::log(percent / rows[i - 1].percent);
        const double whole = std::log(rows[i].percent / rows[i - 1].percent);
        return rows[i - 1].intensity_mm_h *
               std::exp(std::log(rows[i].intensity_mm_h / rows[i - 1].intensity_mm_h) * x / whole);
    };
    RainClimate out = climate_of(name, exceeded, std::max(range.widest_percent, rows.front().percent) / 100,
                                 range.least_mm_h);
    if (!(out.amount_mm > 0)) return Fault{FaultCode::not_finite, "no rain falls there", name, ""};
    return out;
}

Result<RainClimate> climate_of_law(const std::string& name, RainLaw law, double first, double second,
                                   double wet_percent) {
    if (!(wet_percent > 0 && wet_percent <= 100))
        return bad(name, "rain cannot fall in that share of the time", "above 0 to 100 %");
    if (!(first > 0 && first < 1e4) || !(law == RainLaw::exponential || (second > 0 && second < 1e4)))
        return bad(name, "a parameter of the distribution lies outside its range", "above 0");
    const auto wet = wet_percent / 100;
    const auto with = [&](const auto& distribution) {
        return climate_of(
            name,
            [&](double share) {
                return boost::math::quantile(
                    boost::math::complement(distribution, std::min(share / wet, 1 - 1e-12)));
            },
            wet, 1e-3);
    };
    using namespace boost::math;
    RainClimate out;
    switch (law) {
        case RainLaw::lognormal:
            out = with(lognormal_distribution<double, SameEverywhere>(std::log(first), second));
            break;
        case RainLaw::gamma:
            out = with(gamma_distribution<double, SameEverywhere>(first, second));
            break;
        case RainLaw::weibull:
            out = with(weibull_distribution<double, SameEverywhere>(first, second));
            break;
        case RainLaw::exponential:
            out = with(exponential_distribution<double, SameEverywhere>(1 / first));
            break;
    }
    if (!(out.amount_mm > 0) || !std::isfinite(out.amount_mm))
        return Fault{FaultCode::not_finite, "no rain falls there", name, ""};
    return out;
}

Result<RainClimate> climate_of_minutes(const std::string& name, const std::vector<RainMinute>& minutes,
                                       std::int64_t span) {
    RainClimate out;
    out.name = name;
    if (minutes.empty() || !(span > 0))
        return Fault{FaultCode::too_few_points, "no rain was read", name, "give minutes in which it rained"};
    for (std::size_t i = 0; i < minutes.size(); ++i) {
        if (!(minutes[i].intensity_mm_h >= 0 && minutes[i].intensity_mm_h <= most_mm_h))
            return bad(name, "an intensity lies outside 0 to 2000 mm/h", "give mm/h over one minute");
        if (i > 0 && minutes[i].minute <= minutes[i - 1].minute)
            return bad(name, "minutes are not in their order", "sort them by time, each once");
    }
    out.years = static_cast<double>(span) / minutes_in_a_year;
    // Classes 2 % wide keep an error's curve as well as it is known.
    constexpr double width = 1.02;
    std::map<int, RainPart> parts;
    for (const RainMinute& minute : minutes) {
        if (!(minute.intensity_mm_h > 0)) continue;
        RainPart& part =
            parts[static_cast<int>(std::lround(std::log(minute.intensity_mm_h) / std::log(width)))];
        part.intensity_mm_h += minute.intensity_mm_h;
        part.minutes += 1;
    }
    for (auto& [key, part] : parts) {
        part.intensity_mm_h /= part.minutes;
        part.minutes /= out.years;
        out.amount_mm += part.intensity_mm_h * part.minutes / 60;
        out.parts.push_back(part);
    }
    if (!(out.amount_mm > 0))
        return Fault{FaultCode::too_few_points, "no rain was read", name, "give minutes in which it rained"};
    // The largest amount of each whole year; of a record shorter than two years the largest of all.
    const std::int64_t years = std::max<std::int64_t>(1, static_cast<std::int64_t>(out.years + 0.02));
    const std::int64_t origin = minutes.front().minute;
    for (std::size_t m = 0; m < maximum_minutes.size(); ++m) {
        RainMaximum& most = out.maxima[m];
        most.minutes = maximum_minutes[m];
        struct Window {
            double sum = 0;
            std::size_t first = 0;
            std::size_t last = 0;
        };
        std::vector<Window> best(static_cast<std::size_t>(years));
        double sum = 0;
        std::size_t first = 0;
        for (std::size_t i = 0; i < minutes.size(); ++i) {
            sum += minutes[i].intensity_mm_h;
            while (minutes[first].minute <= minutes[i].minute - most.minutes)
                sum -= minutes[first++].intensity_mm_h;
            const auto year = static_cast<std::int64_t>(static_cast<double>(minutes[i].minute - origin) /
                                                        minutes_in_a_year);
            Window& window = best[static_cast<std::size_t>(std::min(year, years - 1))];
            if (sum > window.sum) window = {sum, first, i};
        }
        for (const Window& window : best) {
            for (std::size_t i = window.first; window.sum > 0 && i <= window.last; ++i)
                most.parts.push_back({minutes[i].intensity_mm_h, 1 / static_cast<double>(years)});
            most.amount_mm += window.sum / 60 / static_cast<double>(years);
        }
    }
    return out;
}

}  // namespace tipwright::calib::trial
