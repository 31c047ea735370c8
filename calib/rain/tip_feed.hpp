// TipFeed: what a log says to clean tips for the RainMeter. Counts what it leaves out or changes (RainSigns):
//   bounce       a contact closes again within bounce_s: one tip
//   duplicates   the same time of the same contact twice
//   two contacts closures of both within pair_s are one tip; a tip that one of them missed counts, with the
//                uncertainty of half a tip
//   clock        a time earlier than the one before: the clock was set back. The tips go on at their pace;
//   the clock's
//                own time counts again as soon as it has passed the last one. (Set forward, it cannot be told
//                from dry weather in a log of tips; in one of counts it shows as a gap.)
//   counts       n tips of an interval are laid evenly into it; an empty field or a missing line is a gap
//   times by the minute (resolution 10 s or coarser): tips of one time are a count over the resolution
#pragma once

#include <optional>

#include "calib/rain/rain_meter.hpp"
#include "calib/rain/tips_log.hpp"

namespace tipwright::calib {

struct FeedSettings {
    double bounce_s = 0.1;
    double pair_s = 0.5;
    bool counts = false;
    bool two_contacts = false;
    double interval_s = 0;  // of counts; 0: the distance of the first two lines
    bool names_start = false;
    double resolution_s = 1;  // of the times, of a log of tips
};

class TipFeed {
public:
    TipFeed(const FeedSettings& settings, RainMeter& meter) : settings_(settings), meter_(meter) {}
    // Fault: bad_value (an interval of counts outside 1 s to 1 d).
    Outcome take(const LogEntry& entry);
    Outcome finish();

private:
    void tip(const LogEntry& entry);
    Outcome count(const LogEntry& entry);
    void lay(double from_s, double until_s, int tips, int doubted, bool unknown);
    void note_back(double by_s, std::uint64_t line);
    void send();

    FeedSettings settings_;
    RainMeter& meter_;
    double offset_s_ = 0;
    double last_s_ = 0;
    double before_s_ = 0;
    bool any_ = false;
    double contact_last_s_[2] = {-1e18, -1e18};
    struct Open {
        RainTip tip;
        int seen = 0;  // bits of the contacts
    };
    std::optional<Open> open_;
    // Tips of one time of a coarse clock.
    double heap_s_ = 0;
    int heap_ = 0;
    // Counts.
    std::optional<LogEntry> first_;
    double end_s_ = 0;
    bool after_gap_ = true;
};

}  // namespace tipwright::calib
