#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "calib/distributions.hpp"
#include "calib/outliers.hpp"
#include "calib/rounding.hpp"
#include "calib/tip_checks.hpp"

namespace tipwright::calib {

namespace {

constexpr std::size_t fewest_tips = 8;
// Deviations that matter: less water than this part of a tip, or an interval longer than so many.
constexpr double too_little = 0.75;
constexpr double too_long = 1.5;
// Two parts of an interval that a closure cut in two make a whole one again within this.
constexpr double whole_within = 0.25;

double median(std::vector<double> values) {
    if (values.empty()) return 0;
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

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

std::string counted(std::size_t count) {
    return std::to_string(count) + (count == 1 ? " tip" : " tips");
}

void add_low(const Suspects& suspects, std::size_t tips, const std::string& how, double alpha,
             std::vector<Finding>& out) {
    if (suspects.low.empty()) return;
    Finding finding;
    finding.kind = FindingKind::phantom_tips;
    finding.what =
        counted(suspects.low.size()) + " of " + std::to_string(tips) + " with no or too little water, " + how;
    finding.to_do =
        "look for vibration, insects, a touched bucket or a bouncing contact, and repeat the step";
    // Interval k ends with tip k + 1.
    for (const std::size_t k : suspects.low) finding.tips.push_back(k + 1);
    finding.statistic = suspects.statistic;
    finding.threshold = suspects.threshold;
    finding.false_alarm_rate = alpha;
    out.push_back(std::move(finding));
}

void add_high(const Suspects& suspects, std::size_t tips, const std::string& how, double alpha,
              std::vector<Finding>& out) {
    if (suspects.high.empty()) return;
    Finding finding;
    finding.kind = FindingKind::missed_closure;
    finding.what = counted(suspects.high.size()) + " of " + std::to_string(tips) +
                   " with the water of several, " + how + ": closures were missed";
    finding.to_do = "check the contact, its magnet and its cable";
    for (const std::size_t k : suspects.high) finding.tips.push_back(k + 1);
    finding.statistic = suspects.statistic;
    finding.threshold = suspects.threshold;
    finding.false_alarm_rate = alpha;
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

}  // namespace

std::vector<Finding> check_phantom_tips(const TipSeries& series, double false_alarm_rate) {
    std::vector<Finding> out;
    const std::size_t n = series.interval_s.size();
    if (n < fewest_tips) return out;

    std::vector<double> weighed;
    std::vector<std::size_t> tip_of;
    for (std::size_t k = 0; k < series.mass_g.size(); ++k) {
        if (!std::isfinite(series.mass_g[k])) continue;
        weighed.push_back(series.mass_g[k]);
        tip_of.push_back(k);
    }
    const bool by_mass = weighed.size() >= fewest_tips && 3 * weighed.size() >= 2 * n;
    if (!by_mass && !series.regular) return out;
    std::vector<double> values = by_mass ? weighed : series.interval_s;
    if (!by_mass) {
        tip_of.clear();
        for (std::size_t k = 0; k < n; ++k) {
            tip_of.push_back(k);
            if (!series.flow.empty()) values[k] *= series.flow[k];
        }
    }
    // First without regard to sides, since a gross one puts their order out; then each about its own side.
    const double whole = median(values);
    if (!(whole > 0)) return out;
    std::vector<double> relative;
    for (const double value : values) relative.push_back(value / whole);
    const Suspects gross = suspects_in(relative, false_alarm_rate / 2);
    const std::vector<int> sides = sides_of(relative, gross, series.compartments);
    Suspects fine = suspects_in(relative_to_sides(values, sides), false_alarm_rate / 2);
    Suspects both = fine.low.empty() && fine.high.empty() ? gross : fine;
    for (const bool low : {true, false}) {
        std::vector<std::size_t>& all = low ? both.low : both.high;
        const std::vector<std::size_t>& more = low ? gross.low : gross.high;
        all.insert(all.end(), more.begin(), more.end());
        std::sort(all.begin(), all.end());
        all.erase(std::unique(all.begin(), all.end()), all.end());
        for (std::size_t& k : all) k = tip_of[k];
    }
    const std::string how = by_mass ? "by weighing" : "by the intervals";
    add_low(both, n, how, false_alarm_rate, out);
    add_high(both, n, how, false_alarm_rate, out);
    return out;
}

}  // namespace tipwright::calib
