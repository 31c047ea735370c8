#include "calib/tips/shift_checks.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "calib/statistics/distributions.hpp"
#include "calib/statistics/median.hpp"

namespace tipwright::calib {

namespace {

constexpr std::size_t fewest_values = 6;
constexpr std::size_t fewest_intervals = 8;
// Of a whole interval within an emptying; what lies further off spans a pause.
constexpr double ordinary_within = 0.4;

// Values of one kind, and the tip each of them ends with.
struct Sequence {
    std::vector<double> values;
    std::vector<std::size_t> tip;
};

double mean_of(std::span<const double> values) {
    double sum = 0;
    for (const double value : values) sum += value;
    return sum / static_cast<double>(values.size());
}

// Half of A minus B of each pair of intervals, over the mean interval of the pair.
Sequence differences_of_pairs(const TipSeries& series) {
    Sequence out;
    for (std::size_t k = 0; k + 1 < series.interval_s.size(); k += 2) {
        const double first = series.interval_s[k] * (series.flow.empty() ? 1 : series.flow[k]);
        const double second = series.interval_s[k + 1] * (series.flow.empty() ? 1 : series.flow[k + 1]);
        out.values.push_back((first - second) / (first + second));
        out.tip.push_back(k + 1);
    }
    return out;
}

// Intervals within emptyings that filled the compartment of this side, over their median; half, as the other
// side stays as it is.
Sequence within_emptyings(const TipSeries& series, std::size_t side) {
    Sequence out;
    for (std::size_t k = side; k < series.interval_s.size(); k += 2) {
        if (!(series.interval_s[k] < series.longest_in_emptying_s)) continue;
        out.values.push_back(series.interval_s[k]);
        out.tip.push_back(k + 1);
    }
    if (out.values.size() < fewest_values) return {};
    const double ordinary = median(out.values);
    Sequence kept;
    for (std::size_t k = 0; k < out.values.size(); ++k) {
        const double relative = out.values[k] / ordinary;
        if (!(std::abs(relative - 1) < ordinary_within)) continue;
        kept.values.push_back(relative / 2);
        kept.tip.push_back(out.tip[k]);
    }
    return kept;
}

// Weighed singly where most of them could be.
const std::vector<double>& weighed_tips(const TipSeries& series) {
    const auto known = std::count_if(series.mass_g.begin(), series.mass_g.end(),
                                     [](double mass) { return std::isfinite(mass); });
    const auto n = static_cast<std::ptrdiff_t>(series.interval_s.size());
    return 3 * known >= 2 * n ? series.mass_g : series.rise_g;
}

// Water of each tip, of a bucket the mean of each pair, over the mean of all.
Sequence water_per_tip(const TipSeries& series) {
    const std::vector<double>& masses = weighed_tips(series);
    Sequence out;
    const auto sides = static_cast<std::size_t>(series.compartments);
    for (std::size_t k = 0; k + sides <= masses.size(); k += sides) {
        double mass = 0;
        for (std::size_t side = 0; side < sides; ++side) mass += masses[k + side];
        if (!std::isfinite(mass)) continue;
        out.values.push_back(mass / static_cast<double>(sides));
        out.tip.push_back(k + 1);
    }
    if (out.values.size() < fewest_values) return {};
    const double mean = mean_of(out.values);
    if (!(mean > 0)) return {};
    for (double& value : out.values) value /= mean;
    return out;
}

// Weighed water over interval, relative to the mean of all; of a bucket in pairs.
Sequence weighed_flow(const TipSeries& series, const std::vector<double>& masses) {
    Sequence out;
    const auto sides = static_cast<std::size_t>(series.compartments);
    for (std::size_t k = 0; k + sides <= masses.size(); k += sides) {
        double mass = 0;
        double water = 0;  // that the pump sent meanwhile, any unit
        for (std::size_t side = 0; side < sides; ++side) {
            mass += masses[k + side];
            water += series.interval_s[k + side] * (series.flow.empty() ? 1 : series.flow[k + side]);
        }
        if (!std::isfinite(mass)) continue;
        out.values.push_back(mass / water);
        out.tip.push_back(k + 1);
    }
    if (out.values.size() < fewest_values) return {};
    const double mean = mean_of(out.values);
    if (!(mean > 0)) return {};
    for (double& value : out.values) value /= mean;
    return out;
}

// Of a pump that changed, the weighed water of the tips stays as it was and their pace changes; of the
// balance it is the other way round: the nearer of the two.
std::optional<Finding> check_scale(const TipSeries& series, double alpha) {
    const std::vector<double>& masses = weighed_tips(series);
    const Sequence flow = weighed_flow(series, masses);
    const auto found = level_change(flow.values, 2, allowed_shift_percent / 100, alpha);
    if (!found) return std::nullopt;
    const Sequence water = water_per_tip(series);
    if (water.tip != flow.tip) return std::nullopt;
    const std::span<const double> all(water.values);
    const double of_water = mean_of(all.subspan(found->at)) - mean_of(all.subspan(0, found->at));
    if (!(of_water / found->change > 0.5)) return std::nullopt;
    Finding finding =
        finding_of(FindingId::balance_scale,
                   {{"percent", 100 * std::abs(found->change), 1}, count_of("tip", flow.tip[found->at])},
                   found->statistic, found->threshold, alpha);
    finding.tips.push_back(flow.tip[found->at]);
    return finding;
}

void add(FindingId id, const Sequence& sequence, std::size_t least, double alpha, std::vector<Finding>& out) {
    const auto found = level_change(sequence.values, least, allowed_shift_percent / 100, alpha);
    if (!found) return;
    // Of the compartments half the difference is looked at: what the mean of both moves by, when one moves.
    const double told = id == FindingId::compartment_shifted ? 200 : 100;
    Finding finding = finding_of(
        id, {{"percent", told * std::abs(found->change), 1}, count_of("tip", sequence.tip[found->at])},
        found->statistic, found->threshold, alpha);
    finding.tips.push_back(sequence.tip[found->at]);
    out.push_back(std::move(finding));
}

// Where the change came within a step, its mean stands between the two states and its own scatter hides how
// far off it is: a siphon weighs and times too few tips for the step itself to tell. Its scatter tells, held
// against that of the other steps (F test), and so does where the steps after it stand.
std::optional<ShiftBetween> shifted_within_one(std::span<const HalfDifference> steps,
                                               std::span<const double> aligned, double volume,
                                               double false_alarm_rate) {
    // The scatter of single tips may well double from one rate to another (common practice, no source).
    constexpr double allowed_growth = 2;
    const auto of_one_tip_squared = [](const HalfDifference& step) {
        return step.u_mL * step.u_mL * (step.dof + 2);
    };
    std::optional<ShiftBetween> most;
    for (std::size_t k = 0; k + 1 < steps.size(); ++k) {
        double squares = 0;
        double dof = 0;
        for (std::size_t other = 0; other < steps.size(); ++other) {
            if (other == k) continue;
            squares += of_one_tip_squared(steps[other]) * steps[other].dof;
            dof += steps[other].dof;
        }
        const double ratio = of_one_tip_squared(steps[k]) * dof / squares / (allowed_growth * allowed_growth);
        const double threshold =
            fisher_quantile(1 - false_alarm_rate / static_cast<double>(steps.size() - 1), steps[k].dof, dof);
        const double change = std::abs(aligned[k + 1] - aligned[k]);
        if (!(ratio > threshold) || !(change > allowed_shift_percent / 100 * volume)) continue;
        most = ShiftBetween{k + 1, 100 * change / volume, ratio, threshold};
    }
    return most;
}

}  // namespace

std::optional<LevelChange> level_change(std::span<const double> values, std::size_t least, double allowed,
                                        double false_alarm_rate) {
    const std::size_t n = values.size();
    least = std::max<std::size_t>(least, 1);
    if (n < fewest_values || n < 2 * least) return std::nullopt;
    const auto places = static_cast<double>(n - 2 * least + 1);
    const double dof = static_cast<double>(n) - 2;
    std::optional<LevelChange> most;
    for (std::size_t at = least; at + least <= n; ++at) {
        const double before = mean_of(values.subspan(0, at));
        const double after = mean_of(values.subspan(at));
        double squares = 0;
        for (std::size_t k = 0; k < n; ++k) {
            const double residual = values[k] - (k < at ? before : after);
            squares += residual * residual;
        }
        const double u =
            std::sqrt(squares / dof * (1 / static_cast<double>(at) + 1 / static_cast<double>(n - at)));
        const double statistic = (std::abs(after - before) - allowed) / u;
        if (!(u > 0) || (most && !(statistic > most->statistic))) continue;
        most = LevelChange{at, after - before, statistic, 0};
    }
    if (!most) return std::nullopt;
    most->threshold = student_quantile(1 - false_alarm_rate / (2 * places), dof);
    if (!(most->statistic > most->threshold)) return std::nullopt;
    return most;
}

std::vector<Finding> check_shift(const TipSeries& series, double false_alarm_rate) {
    std::vector<Finding> out;
    if (series.interval_s.size() < fewest_intervals) return out;
    const bool bucket = series.compartments == 2;
    const double share = false_alarm_rate / (bucket ? 3 : series.regular ? 2 : 1);
    if (bucket && series.regular)
        add(FindingId::compartment_shifted, differences_of_pairs(series), 1, share, out);
    for (std::size_t side = 0; side < 2 && bucket && !series.regular && out.empty(); ++side)
        add(FindingId::compartment_shifted, within_emptyings(series, side), 2, share, out);
    // Of a siphon single tips are weighed too roughly to tell.
    if (out.empty() && series.regular)
        if (auto scale = check_scale(series, share)) out.push_back(std::move(*scale));
    if (out.empty() && series.regular)
        add(FindingId::volume_shifted, water_per_tip(series), bucket ? 1 : 2, share, out);
    return out;
}

std::optional<Finding> check_water_since_settle(const TipSeries& series, std::size_t settling,
                                                double false_alarm_rate) {
    TipSeries weighed = series;
    weighed.rise_g.clear();
    const Sequence water = water_per_tip(weighed);
    // Water let out of the vessel, or a tip that was false or lost: other checks speak of them.
    for (const double value : water.values)
        if (!(std::abs(value - 1) < ordinary_within)) return std::nullopt;
    std::vector<Finding> found;
    add(FindingId::volume_shifted, water, 1, false_alarm_rate, found);
    if (found.empty()) return std::nullopt;
    Finding& finding = found.front();
    const std::size_t tip = finding.tips.front() > settling ? finding.tips.front() - settling : 0;
    finding.tips.front() = tip;
    finding.numbers.back().value = static_cast<double>(tip);
    return finding;
}

std::optional<ShiftBetween> shift_between(std::span<const HalfDifference> steps, double false_alarm_rate) {
    const std::size_t n = steps.size();
    if (n < 2) return std::nullopt;
    struct Side {
        double mean = 0;
        double u = 0;
        double fourth = 0;  // of u, over its degrees of freedom
    };
    double volume = 0;
    // A lost tip makes A of B: each step is read the way round that fits those before it.
    std::vector<double> aligned;
    double mean = 0;
    for (const HalfDifference& step : steps) {
        if (!(step.u_mL > 0) || !(step.dof > 0)) return std::nullopt;
        volume += step.volume_per_tip_mL / static_cast<double>(n);
        const bool turned = std::abs(-step.mL - mean) < std::abs(step.mL - mean);
        aligned.push_back(!aligned.empty() && turned ? -step.mL : step.mL);
        mean += (aligned.back() - mean) / static_cast<double>(aligned.size());
    }
    const auto side_of = [&](std::size_t from, std::size_t to) {
        Side out;
        double weights = 0;
        for (std::size_t k = from; k < to; ++k) {
            const double weight = 1 / (steps[k].u_mL * steps[k].u_mL);
            weights += weight;
            out.mean += weight * aligned[k];
        }
        out.mean /= weights;
        out.u = std::sqrt(1 / weights);
        for (std::size_t k = from; k < to; ++k)
            out.fourth += std::pow(1 / (weights * steps[k].u_mL), 4) / steps[k].dof;
        return out;
    };
    std::optional<ShiftBetween> most;
    for (std::size_t at = 1; at < n; ++at) {
        const Side before = side_of(0, at);
        const Side after = side_of(at, n);
        const double change =
            std::min(std::abs(after.mean - before.mean), std::abs(after.mean + before.mean));
        const double u = std::hypot(before.u, after.u);
        const double statistic = (change - allowed_shift_percent / 100 * volume) / u;
        if (most && !(statistic > most->statistic)) continue;
        // Welch-Satterthwaite, JCGM 100:2008 G.2b.
        const double dof = std::pow(u, 4) / (before.fourth + after.fourth);
        const double threshold =
            student_quantile(1 - false_alarm_rate / (2 * static_cast<double>(n - 1)), dof);
        most = ShiftBetween{at, 100 * change / volume, statistic, threshold};
    }
    if (most && most->statistic > most->threshold) return most;
    return shifted_within_one(steps, aligned, volume, false_alarm_rate);
}

}  // namespace tipwright::calib
