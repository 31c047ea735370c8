// Contacts: what the closures of one or two contacts say about the contacts themselves.
// Times in seconds on one clock. Rules of counting are those of calib/tips/tips.hpp; here they are laid open,
// so that a missed or extra closure, bounce, order and delay can be named tip by tip.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "calib/tips/finding.hpp"

namespace tipwright::calib {

// One electrical change of a contact.
struct Edge {
    bool closed = false;  // state after it
    double time_s = 0;
};

// What belongs to one closure (of a normally closed contact: one opening).
struct Closure {
    double time_s = 0;    // first change
    double bounce_s = 0;  // from there to the last change in the same direction within the debounce time
    int bounces = 0;      // repeats of the change within the debounce time
};

// Edges in time order. Changes closer than debounce_s to the start of a closure belong to it.
std::vector<Closure> closures_of(std::span<const Edge> edges, bool normally_closed, double debounce_s);

// One tip as seen by two contacts.
struct ReconciledTip {
    double time_s = 0;                                  // of the first closure
    std::array<std::optional<std::size_t>, 2> closure;  // index into the closures of contact 1, 2
    double delay_s = 0;                                 // contact 2 after contact 1, when both are there
};

struct Reconciliation {
    std::vector<ReconciledTip> tips;
    std::array<std::vector<std::size_t>, 2> missed;  // tips that contact 1, 2 did not see
    std::array<std::vector<std::size_t>, 2> extra;   // entries of `tips` that only that contact made
    int agreed = 0;
    double delay_mean_s = 0;
    double delay_sd_s = 0;
};

// Closures closer than window_s belong together, the nearest first. One that stands alone is a tip that the
// other contact missed when the intervals before and after it are like the others; it is extra, no tip, when
// it cuts an ordinary interval in two. regular: the intervals of the gauge are (no siphon); otherwise every
// lone closure counts as missed by the other contact.
Reconciliation reconcile(std::span<const Closure> first, std::span<const Closure> second, double window_s,
                         bool regular);

// Bounce longer than half the debounce time: the next longer one would count twice. A plain fact.
std::vector<Finding> check_bounce(std::span<const Closure> closures, int contact, double debounce_s);

// Missed and extra closures (plain facts), a side that one contact never sees (misses that fall by chance are
// on one of the alternating sides only with the hypergeometric probability; below 16 tips it cannot be told
// from missed closures), and delays that are not steady: an outlying delay by calib/statistics/outliers.hpp,
// normal delays assumed.
std::vector<Finding> check_contacts(const Reconciliation& reconciliation, double window_s, int compartments,
                                    double false_alarm_rate = default_false_alarm_rate);

}  // namespace tipwright::calib
