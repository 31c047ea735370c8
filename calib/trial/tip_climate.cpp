#include <algorithm>
#include <cmath>

#include "calib/trial/rain_climate.hpp"

namespace tipwright::calib::trial {

namespace {

constexpr double year_s = 525960 * 60.0;

// What had fallen until a time. Tips at the same time make a jump.
struct Fallen {
    double time_s = 0;
    double mm = 0;
};

std::vector<Fallen> fallen_by(const std::vector<double>& tips_s, double tip_mm) {
    std::vector<Fallen> out;
    double before_s = tips_s.front() - longest_tip_interval_s;
    double mm = 0;
    for (const double tip_s : tips_s) {
        const double begin_s = std::max(before_s, tip_s - longest_tip_interval_s);
        if (out.empty() || begin_s > out.back().time_s) out.push_back({begin_s, mm});
        mm += tip_mm;
        out.push_back({tip_s, mm});
        before_s = tip_s;
    }
    return out;
}

// Asked at times that only rise.
class Gauge {
public:
    explicit Gauge(const std::vector<Fallen>& fallen) : fallen_(fallen) {}
    // with_jump: what tipped at that very time counts.
    double at(double time_s, bool with_jump) {
        const auto passed = [&](std::size_t i) {
            return with_jump ? fallen_[i].time_s <= time_s : fallen_[i].time_s < time_s;
        };
        while (next_ < fallen_.size() && passed(next_)) ++next_;
        if (next_ == 0) return 0;
        if (next_ == fallen_.size()) return fallen_.back().mm;
        const Fallen& a = fallen_[next_ - 1];
        const Fallen& b = fallen_[next_];
        return b.time_s > a.time_s ? a.mm + (b.mm - a.mm) * (time_s - a.time_s) / (b.time_s - a.time_s)
                                   : a.mm;
    }

private:
    const std::vector<Fallen>& fallen_;
    std::size_t next_ = 0;
};

struct Window {
    double from_s = 0;
    double mm = 0;
};

// Of each year the fullest window of that length; a window belongs to the year in which it ends.
std::vector<Window> fullest(const std::vector<Fallen>& fallen, double long_s, std::int64_t years) {
    std::vector<Window> out(static_cast<std::size_t>(years));
    const double origin_s = fallen.front().time_s;
    for (const bool begins : {true, false}) {
        Gauge at_begin(fallen);
        Gauge at_end(fallen);
        for (const Fallen& tip : fallen) {
            const double from_s = begins ? tip.time_s : tip.time_s - long_s;
            const double mm = at_end.at(from_s + long_s, true) - at_begin.at(from_s, false);
            const auto year = static_cast<std::int64_t>((from_s + long_s - origin_s) / year_s);
            Window& window = out[static_cast<std::size_t>(std::clamp<std::int64_t>(year, 0, years - 1))];
            if (mm > window.mm) window = {from_s, mm};
        }
    }
    return out;
}

}  // namespace

std::vector<RainMinute> minutes_of_tips(const std::vector<double>& tips_s, double tip_mm) {
    std::vector<RainMinute> out;
    const auto add = [&](std::int64_t minute, double mm) {
        if (out.empty() || out.back().minute < minute)
            out.push_back({minute, 60 * mm});
        else
            out.back().intensity_mm_h += 60 * mm;
    };
    for (std::size_t i = 0; i < tips_s.size(); ++i) {
        const double end = tips_s[i];
        double begin = end - longest_tip_interval_s;
        if (i > 0) begin = std::max(begin, tips_s[i - 1]);
        if (!(end > begin)) {
            add(static_cast<std::int64_t>(std::floor(end / 60)), tip_mm);
            continue;
        }
        const double per_s = tip_mm / (end - begin);
        while (begin < end) {
            const auto minute = static_cast<std::int64_t>(std::floor(begin / 60));
            const double until = std::min(end, 60.0 * static_cast<double>(minute + 1));
            add(minute, per_s * (until - begin));
            begin = until;
        }
    }
    return out;
}

Result<RainClimate> climate_of_tips(const std::string& name, const std::vector<double>& tips_s,
                                    double tip_mm) {
    const std::vector<RainMinute> minutes = minutes_of_tips(tips_s, tip_mm);
    const std::int64_t span = minutes.empty() ? 0 : minutes.back().minute - minutes.front().minute + 1;
    auto out = climate_of_minutes(name, minutes, span);
    if (!out) return out;
    const std::vector<Fallen> fallen = fallen_by(tips_s, tip_mm);
    for (RainMaximum& most : out->maxima) {
        const double long_s = 60.0 * most.minutes;
        // As many years as climate_of_minutes() counts.
        const std::int64_t years = std::max<std::int64_t>(1, static_cast<std::int64_t>(out->years + 0.02));
        most.parts.clear();
        most.amount_mm = 0;
        for (const Window& window : fullest(fallen, long_s, years)) {
            if (!(window.mm > 0)) continue;
            Gauge gauge(fallen);
            double before = gauge.at(window.from_s, false);
            for (int minute = 1; minute <= most.minutes; ++minute) {
                const double now = gauge.at(window.from_s + 60.0 * minute, true);
                if (now > before) most.parts.push_back({60 * (now - before), 1 / static_cast<double>(years)});
                before = now;
            }
            most.amount_mm += window.mm / static_cast<double>(years);
        }
    }
    return out;
}

}  // namespace tipwright::calib::trial
