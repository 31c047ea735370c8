#include <algorithm>
#include <array>
#include <cmath>

#include "calib/statistics/distributions.hpp"
#include "calib/statistics/median.hpp"
#include "calib/statistics/outliers.hpp"
#include "calib/tips/tip_checks.hpp"

namespace tipwright::calib {

namespace {

constexpr std::size_t fewest_emptyings = 8;
// Deviations that matter: less water than this part of a tip, or an interval longer than so many.
constexpr double too_little = 0.75;
constexpr double too_long = 1.5;
// Against the nominal volume, which a sound gauge may exceed at high flow.
constexpr double too_much_for_one = 1.6;
// Two parts of an interval that a closure cut in two make a whole one again within this.
constexpr double whole_within = 0.25;

struct Suspects {
    std::vector<std::size_t> low;
    std::vector<std::size_t> high;
    double statistic = 0;
    double threshold = 0;
};

// Deviations from the median beyond Student's t times the scaled median deviation. Its efficiency for normal
// samples is 37 % (Rousseeuw and Croux 1993, J. Am. Stat. Assoc. 88, 1273), so it is given 0.37 (n - 1)
// degrees of freedom; the limit is shared out over the sample. Many suspects cannot hide each other from it.
std::vector<std::size_t> far_from_median(const std::vector<double>& values, double alpha) {
    const double middle = median(values);
    std::vector<double> deviations;
    deviations.reserve(values.size());
    for (const double value : values) deviations.push_back(std::abs(value - middle));
    const double scale = 1.4826 * median(deviations);
    const auto n = static_cast<double>(values.size());
    const double limit = student_quantile(1 - alpha / (2 * n), 0.37 * (n - 1)) * scale;
    std::vector<std::size_t> out;
    for (std::size_t k = 0; k < values.size(); ++k)
        if (scale > 0 && deviations[k] > limit) out.push_back(k);
    return out;
}

// Significant and large deviations of the values, each about what is ordinary for it. Half of alpha for each
// of two tests: one sees a few in a short series, the other many.
Suspects suspects_in(const std::vector<double>& relative, double alpha) {
    Suspects out;
    Outliers outliers = find_outliers(relative, alpha / 2, relative.size() / 3);
    out.statistic = outliers.statistic;
    out.threshold = outliers.threshold;
    const std::vector<std::size_t> far = far_from_median(relative, alpha / 2);
    outliers.at.insert(outliers.at.end(), far.begin(), far.end());
    std::sort(outliers.at.begin(), outliers.at.end());
    outliers.at.erase(std::unique(outliers.at.begin(), outliers.at.end()), outliers.at.end());
    for (const std::size_t k : outliers.at) {
        if (relative[k] < too_little) out.low.push_back(k);
        if (relative[k] > too_long) out.high.push_back(k);
    }
    return out;
}

// The values over the median of their compartment; sides: which compartment each belongs to.
std::vector<double> relative_to_sides(const std::vector<double>& values, const std::vector<int>& sides) {
    std::array<std::vector<double>, 2> of_side;
    for (std::size_t k = 0; k < values.size(); ++k)
        of_side[static_cast<std::size_t>(sides[k])].push_back(values[k]);
    const std::array<double, 2> ordinary{median(of_side[0]), median(of_side[1])};
    std::vector<double> out;
    for (std::size_t k = 0; k < values.size(); ++k) {
        const double whole = ordinary[static_cast<std::size_t>(sides[k])];
        out.push_back(whole > 0 ? values[k] / whole : 1);
    }
    return out;
}

// Tip k + 1 ends interval k.
void add(FindingId id, const std::vector<std::size_t>& intervals, const Suspects& suspects, std::size_t tips,
         double alpha, std::vector<Finding>& out) {
    if (intervals.empty()) return;
    Finding finding = finding_of(id, {count_of("count", intervals.size()), count_of("tips", tips)},
                                 suspects.statistic, suspects.threshold, alpha);
    for (const std::size_t k : intervals) finding.tips.push_back(k + 1);
    out.push_back(std::move(finding));
}

// Which compartment each interval filled: they alternate, but a closure that cut an interval in two moved no
// water, and one that was missed hides a compartment.
std::vector<int> sides_of(const std::vector<double>& relative, const Suspects& gross, int compartments) {
    std::vector<int> sides;
    int side = 0;
    std::size_t low = 0;
    for (std::size_t k = 0; k < relative.size(); ++k) {
        sides.push_back(side);
        if (compartments == 1) continue;
        while (low < gross.low.size() && gross.low[low] < k) ++low;
        const bool short_one = low < gross.low.size() && gross.low[low] == k;
        const bool cut = short_one && k + 1 < relative.size() &&
                         std::abs(relative[k] + relative[k + 1] - 1) < whole_within;
        const bool two = relative[k] > too_long && std::abs(relative[k] - 2) < 2 * whole_within;
        if (!cut && !two) side = 1 - side;
    }
    return sides;
}

// Tips with less than a quarter of the nominal volume, if that is beyond what a gauge may hold.
std::vector<std::size_t> nearly_empty(const std::vector<double>& water, double alpha) {
    constexpr double nominal_relative_u = 0.12;
    constexpr double a_quarter = 0.25;
    std::vector<std::size_t> out;
    if (water.empty()) return out;
    const double limit =
        1 - nominal_relative_u * normal_quantile(1 - alpha / static_cast<double>(water.size()));
    for (std::size_t k = 0; k < water.size(); ++k)
        if (water[k] < std::min(limit, a_quarter)) out.push_back(k);
    return out;
}

void merge(const std::vector<std::size_t>& more, std::vector<std::size_t>& all) {
    all.insert(all.end(), more.begin(), more.end());
    std::sort(all.begin(), all.end());
    all.erase(std::unique(all.begin(), all.end()), all.end());
}

// Within an emptying the siphon's own flow fills the bucket, so no interval is shorter than those but that of
// a closure without a tip. How many emptyings there are, and how long the pauses, says nothing.
std::vector<std::size_t> too_soon_after_another(const TipSeries& series, double alpha) {
    std::vector<double> within;
    for (const double interval_s : series.interval_s)
        if (interval_s < series.longest_in_emptying_s) within.push_back(interval_s);
    if (within.size() < fewest_emptyings) return {};
    const double ordinary_s = median(within);
    for (double& interval_s : within) interval_s /= ordinary_s;
    const Suspects suspects = suspects_in(within, alpha);
    std::vector<std::size_t> out;
    std::size_t place = 0;
    for (std::size_t k = 0; k < series.interval_s.size(); ++k) {
        if (!(series.interval_s[k] < series.longest_in_emptying_s)) continue;
        if (std::binary_search(suspects.low.begin(), suspects.low.end(), place)) out.push_back(k);
        ++place;
    }
    return out;
}

// One kind of evidence: a value a tip, and what turns it into water over the nominal volume (0: not known).
struct Evidence {
    std::vector<double> values;
    std::vector<std::size_t> tip_of;
    double water_unit = 0;
    bool comparable = true;  // with each other: enough of them, and of whole tips
};

Suspects suspects_by(const Evidence& evidence, int compartments, double false_alarm_rate) {
    const std::vector<double>& values = evidence.values;
    std::vector<double> water;
    if (evidence.water_unit > 0)
        for (const double value : values) water.push_back(value * evidence.water_unit);
    const std::vector<std::size_t> empty = nearly_empty(water, false_alarm_rate / 2);
    const double alpha = water.empty() ? false_alarm_rate : false_alarm_rate / 2;
    const double whole = median(values);
    Suspects both;
    // When a third of the tips is empty, the others cannot be judged by what is ordinary.
    if (evidence.comparable && values.size() >= fewest_emptyings && whole > 0 &&
        3 * empty.size() < values.size()) {
        std::vector<double> relative;
        relative.reserve(values.size());
        for (const double value : values) relative.push_back(value / whole);
        // First without regard to sides, since a gross one puts their order out; then each about its own
        // side.
        const Suspects gross = suspects_in(relative, alpha / 2);
        const std::vector<int> sides = sides_of(relative, gross, compartments);
        both = suspects_in(relative_to_sides(values, sides), alpha / 2);
        if (both.low.empty() && both.high.empty()) both = gross;
        merge(gross.low, both.low);
        merge(gross.high, both.high);
    }
    merge(empty, both.low);
    // Water of several tips is more than one holds.
    std::erase_if(both.high, [&](std::size_t k) { return !water.empty() && water[k] < too_much_for_one; });
    for (std::vector<std::size_t>* found : {&both.low, &both.high})
        for (std::size_t& k : *found) k = evidence.tip_of[k];
    return both;
}

}  // namespace

std::vector<Finding> check_phantom_tips(const TipSeries& series, double false_alarm_rate) {
    const std::size_t n = series.interval_s.size();
    Evidence weighed;
    for (std::size_t k = 0; k < series.mass_g.size(); ++k) {
        if (!std::isfinite(series.mass_g[k])) continue;
        weighed.values.push_back(series.mass_g[k]);
        weighed.tip_of.push_back(k);
    }
    weighed.water_unit = series.nominal_mL > 0 ? 1 / series.nominal_mL : 0;
    Evidence timed;
    for (std::size_t k = 0; k < n && series.regular; ++k) {
        timed.values.push_back(series.interval_s[k] * (series.flow.empty() ? 1 : series.flow[k]));
        timed.tip_of.push_back(k);
    }
    if (series.flow.empty() && series.nominal_mL > 0) timed.water_unit = series.flow_mL_s / series.nominal_mL;
    // Of fast tips only those between two pauses are weighed singly, a siphon's only roughly.
    weighed.comparable = series.regular && 3 * weighed.values.size() >= 2 * n;

    const Suspects by_weighing = suspects_by(weighed, series.compartments, false_alarm_rate / 2);
    Suspects by_intervals = suspects_by(timed, series.compartments, false_alarm_rate / 2);
    if (!series.regular) by_intervals.low = too_soon_after_another(series, false_alarm_rate / 2);
    const bool weighing_tells_more =
        by_weighing.low.size() + by_weighing.high.size() > by_intervals.low.size() + by_intervals.high.size();
    const Suspects& suspects = weighing_tells_more ? by_weighing : by_intervals;
    std::vector<Finding> out;
    add(weighing_tells_more ? FindingId::phantom_weighed : FindingId::phantom_timed, suspects.low, suspects,
        n, false_alarm_rate, out);
    add(weighing_tells_more ? FindingId::missed_weighed : FindingId::missed_timed, suspects.high, suspects, n,
        false_alarm_rate, out);
    return out;
}

}  // namespace tipwright::calib
