#include <algorithm>
#include <cmath>

#include "calib/rain/fullest_window.hpp"
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
std::vector<FullestWindow::Window> fullest(const std::vector<Fallen>& fallen, double long_s,
                                           std::int64_t years) {
    std::vector<FullestWindow::Window> out(static_cast<std::size_t>(years));
    const double origin_s = fallen.front().time_s;
    FullestWindow windows(long_s);
    for (std::size_t i = 1; i < fallen.size(); ++i) {
        const Fallen& a = fallen[i - 1];
        const Fallen& b = fallen[i];
        // A piece over the end of a year is cut there.
        for (double from_s = a.time_s;;) {
            const double year =
                std::clamp(std::floor((from_s - origin_s) / year_s), 0.0, static_cast<double>(years - 1));
            const double end_s =
                year + 1 < static_cast<double>(years) ? origin_s + (year + 1) * year_s : b.time_s;
            const double until_s = std::min(b.time_s, std::max(end_s, from_s));
            const double share = b.time_s > a.time_s ? (until_s - from_s) / (b.time_s - a.time_s) : 1;
            FullestWindow::Window& best = out[static_cast<std::size_t>(year)];
            const auto found = windows.add(from_s, until_s, share * (b.mm - a.mm), best.mm);
            if (found.mm > best.mm) best = found;
            from_s = until_s;
            if (!(from_s < b.time_s)) break;
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
        for (const FullestWindow::Window& window : fullest(fallen, long_s, years)) {
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
