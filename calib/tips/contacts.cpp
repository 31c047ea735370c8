#include "calib/tips/contacts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

#include "calib/statistics/median.hpp"
#include "calib/statistics/outliers.hpp"

namespace tipwright::calib {

namespace {

// A closure whose neighbours stand at least this part of an ordinary interval away is a tip.
constexpr double ordinary_part = 0.6;
// Neighbours closer together than this many ordinary intervals leave no room for a tip between them.
constexpr double no_room = 1.5;
// Delays below this are the clock's and the reed's own.
constexpr double negligible_delay_s = 0.002;

FindingNumber milliseconds(std::string name, double seconds) {
    return {std::move(name), 1000 * seconds, 1};
}

// 1 or 2, as the contacts are known.
FindingNumber contact_of(std::size_t index) {
    return count_of("contact", index + 1);
}

double median_interval(const std::vector<ReconciledTip>& tips) {
    std::vector<double> intervals;
    for (std::size_t k = 1; k < tips.size(); ++k) intervals.push_back(tips[k].time_s - tips[k - 1].time_s);
    return median(std::move(intervals));
}

// Is there room for a tip at k between its neighbours?
bool cuts_an_interval(const std::vector<ReconciledTip>& tips, std::size_t k, double ordinary_s) {
    if (k == 0 || k + 1 == tips.size()) return false;
    const double before_s = tips[k].time_s - tips[k - 1].time_s;
    const double after_s = tips[k + 1].time_s - tips[k].time_s;
    if (before_s >= ordinary_part * ordinary_s && after_s >= ordinary_part * ordinary_s) return false;
    return before_s + after_s < no_room * ordinary_s;
}

// Probability that m misses among n alternating tips fall on nothing but one side of size n_side, either one.
double chance_of_one_side(std::size_t misses, std::size_t side, std::size_t tips) {
    double chance = 2;
    for (std::size_t i = 0; i < misses; ++i)
        chance *= static_cast<double>(side - i) / static_cast<double>(tips - i);
    return chance;
}

// Misses on one of two alternating sides only, and most of that side.
std::optional<Finding> check_dead_side(const Reconciliation& seen, std::size_t contact,
                                       double false_alarm_rate) {
    const auto& missed = seen.missed[contact];
    const std::size_t tips = seen.tips.size();
    const std::size_t side = missed.front() % 2 == 0 ? (tips + 1) / 2 : tips / 2;
    const bool same_side =
        std::all_of(missed.begin(), missed.end(), [&](std::size_t k) { return k % 2 == missed.front() % 2; });
    // Half the tips of that side: less is a contact that misses now and then.
    if (!same_side || missed.size() * 2 < side) return std::nullopt;
    const double chance = chance_of_one_side(missed.size(), side, tips);
    if (!(chance < false_alarm_rate)) return std::nullopt;
    Finding finding =
        finding_of(FindingId::contact_one_sided,
                   {contact_of(contact), count_of("count", missed.size()), count_of("tips", tips)}, chance,
                   false_alarm_rate, false_alarm_rate);
    finding.tips = missed;
    return finding;
}

void check_delays(const Reconciliation& seen, double window_s, double false_alarm_rate,
                  std::vector<Finding>& out) {
    std::vector<double> delays;
    std::vector<std::size_t> tip_of;
    for (std::size_t k = 0; k < seen.tips.size(); ++k) {
        if (!seen.tips[k].closure[0] || !seen.tips[k].closure[1]) continue;
        delays.push_back(seen.tips[k].delay_s);
        tip_of.push_back(k);
    }
    if (std::abs(seen.delay_mean_s) > window_s / 2) {
        out.push_back(
            finding_of(FindingId::contact_late,
                       {milliseconds("delay_ms", seen.delay_mean_s), milliseconds("debounce_ms", window_s)},
                       std::abs(seen.delay_mean_s), window_s / 2));
    }
    const Outliers outliers = find_outliers(delays, false_alarm_rate, 10);
    std::vector<std::size_t> at;
    double furthest_s = 0;
    for (const std::size_t k : outliers.at) {
        if (!(std::abs(delays[k] - seen.delay_mean_s) > negligible_delay_s)) continue;
        at.push_back(tip_of[k]);
        if (std::abs(delays[k]) > std::abs(furthest_s)) furthest_s = delays[k];
    }
    if (at.empty()) return;
    Finding finding = finding_of(FindingId::contact_unsteady,
                                 {count_of("count", at.size()), milliseconds("delay_ms", furthest_s),
                                  milliseconds("usual_ms", seen.delay_mean_s)},
                                 outliers.statistic, outliers.threshold, false_alarm_rate);
    finding.tips = std::move(at);
    out.push_back(std::move(finding));
}

}  // namespace

std::vector<Closure> closures_of(std::span<const Edge> edges, bool normally_closed, double debounce_s) {
    std::vector<Closure> closures;
    for (const Edge& edge : edges) {
        if (edge.closed == normally_closed) continue;
        if (!closures.empty() && edge.time_s - closures.back().time_s < debounce_s) {
            ++closures.back().bounces;
            closures.back().bounce_s = edge.time_s - closures.back().time_s;
            continue;
        }
        closures.push_back({edge.time_s, 0, 0});
    }
    return closures;
}

Reconciliation reconcile(std::span<const Closure> first, std::span<const Closure> second, double window_s,
                         bool regular) {
    constexpr double never = std::numeric_limits<double>::infinity();
    Reconciliation out;
    std::size_t i = 0;
    std::size_t j = 0;
    const auto time_of = [&](std::span<const Closure> closures, std::size_t k) {
        if (k < closures.size()) return closures[k].time_s;
        return never;
    };
    double sum = 0;
    double sum_squares = 0;
    while (i < first.size() || j < second.size()) {
        const double a = time_of(first, i);
        const double b = time_of(second, j);
        ReconciledTip tip;
        tip.time_s = std::min(a, b);
        const double apart = std::abs(a - b);
        // A closure further on may be the nearer partner: then this one stands alone.
        const bool nearer_later = a < b ? std::abs(time_of(first, i + 1) - b) < apart
                                        : std::abs(time_of(second, j + 1) - a) < apart;
        if (apart < window_s && !nearer_later) {
            tip.closure = {i++, j++};
            tip.delay_s = b - a;
            sum += tip.delay_s;
            sum_squares += tip.delay_s * tip.delay_s;
            ++out.agreed;
        } else if (a <= b) {
            tip.closure[0] = i++;
        } else {
            tip.closure[1] = j++;
        }
        out.tips.push_back(tip);
    }
    if (out.agreed > 0) out.delay_mean_s = sum / out.agreed;
    if (out.agreed > 1)
        out.delay_sd_s = std::sqrt(std::max(0.0, (sum_squares - sum * sum / out.agreed) / (out.agreed - 1)));
    const double ordinary_s = median_interval(out.tips);
    for (std::size_t k = 0; k < out.tips.size(); ++k) {
        const auto& closure = out.tips[k].closure;
        if (closure[0] && closure[1]) continue;
        const std::size_t saw = closure[0] ? 0 : 1;
        if (regular && cuts_an_interval(out.tips, k, ordinary_s))
            out.extra[saw].push_back(k);
        else
            out.missed[1 - saw].push_back(k);
    }
    return out;
}

std::vector<Finding> check_bounce(std::span<const Closure> closures, int contact, double debounce_s) {
    std::vector<std::size_t> at;
    double longest_s = 0;
    for (std::size_t k = 0; k < closures.size(); ++k) {
        if (!(closures[k].bounce_s > debounce_s / 2)) continue;
        at.push_back(k);
        longest_s = std::max(longest_s, closures[k].bounce_s);
    }
    if (at.empty()) return {};
    Finding finding = finding_of(FindingId::contact_bounce,
                                 {{"contact", static_cast<double>(contact), 0},
                                  milliseconds("longest_ms", longest_s),
                                  milliseconds("debounce_ms", debounce_s)},
                                 longest_s, debounce_s / 2);
    finding.tips = std::move(at);
    return {finding};
}

std::vector<Finding> check_contacts(const Reconciliation& reconciliation, double window_s, int compartments,
                                    double false_alarm_rate) {
    std::vector<Finding> out;
    for (std::size_t contact = 0; contact < 2; ++contact) {
        const auto& missed = reconciliation.missed[contact];
        std::optional<Finding> dead;
        if (compartments == 2 && !missed.empty())
            dead = check_dead_side(reconciliation, contact, false_alarm_rate / 2);
        if (dead) {
            out.push_back(std::move(*dead));
        } else if (!missed.empty()) {
            Finding finding =
                finding_of(FindingId::contact_missed, {contact_of(contact), count_of("count", missed.size()),
                                                       count_of("tips", reconciliation.tips.size())});
            finding.tips = missed;
            out.push_back(std::move(finding));
        }
        const auto& extra = reconciliation.extra[contact];
        if (!extra.empty()) {
            Finding finding =
                finding_of(FindingId::contact_extra, {contact_of(contact), count_of("count", extra.size())});
            finding.tips = extra;
            out.push_back(std::move(finding));
        }
    }
    check_delays(reconciliation, window_s, false_alarm_rate, out);
    return out;
}

}  // namespace tipwright::calib
