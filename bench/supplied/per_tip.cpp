#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "bench/supplied/forms.hpp"
#include "calib/statistics/serial_correlation.hpp"

namespace tipwright::bench {
namespace {

constexpr double tip_amount_max = 1e5;  // g or mL in one tip

struct SuppliedTip {
    std::size_t row = 0;
    int side = -1;  // 0, 1; -1: not told
    double amount = 0;
    std::optional<double> time_s;
    std::optional<double> before_g;
    std::optional<double> after_g;
};

struct SuppliedStep {
    std::size_t first_row = 0;
    double set_intensity_mm_h = 0;
    calib::Conditions conditions;
    std::vector<SuppliedTip> tips;
    std::vector<std::string> remarks;
};

// 0 for the first side, 1 for the second, nothing for other words.
std::optional<int> side_named(const std::string& word) {
    static const std::map<std::string, int> sides{{"A", 0},    {"B", 1},     {"a", 0},    {"b", 1},
                                                  {"L", 0},    {"R", 1},     {"left", 0}, {"right", 1},
                                                  {"Left", 0}, {"Right", 1}, {"1", 0},    {"2", 1}};
    const auto found = sides.find(word);
    if (found == sides.end()) return std::nullopt;
    return found->second;
}

TipGroup group_of(const std::vector<SuppliedTip>& tips, int side) {
    TipGroup group;
    for (const SuppliedTip& tip : tips) {
        if (side >= 0 && tip.side != side) continue;
        ++group.tips;
        group.mean += tip.amount;
    }
    if (group.tips == 0) return group;
    group.mean /= group.tips;
    double squares = 0;
    for (const SuppliedTip& tip : tips)
        if (side < 0 || tip.side == side) squares += (tip.amount - group.mean) * (tip.amount - group.mean);
    group.sd = group.tips > 1 ? std::sqrt(squares / (group.tips - 1)) : 0;
    return group;
}

// Pooled over the compartments: each tip about the mean of its own.
double pooled_variance(const TipGroup& a, const TipGroup& b) {
    const int dof = a.tips + b.tips - 2;
    return dof > 0 ? ((a.tips - 1) * a.sd * a.sd + (b.tips - 1) * b.sd * b.sd) / dof : 0;
}

TipSummary summary_of(int step, bool in_mL, const std::vector<SuppliedTip>& tips) {
    TipSummary out;
    out.step = step;
    out.in_mL = in_mL;
    out.all = group_of(tips, -1);
    out.mean = out.all.mean;
    const TipGroup a = group_of(tips, 0);
    const TipGroup b = group_of(tips, 1);
    if (a.tips == 0 || b.tips == 0) return out;
    out.a = a;
    out.b = b;
    out.mean = (a.mean + b.mean) / 2;
    // D = 2 (a - b)/(a + b): dD/da = 4 b/(a + b)^2, dD/db = -4 a/(a + b)^2.
    const double sum = a.mean + b.mean;
    const double pooled = pooled_variance(a, b);
    const double u_a = 4 * b.mean / (sum * sum) * std::sqrt(pooled / a.tips);
    const double u_b = 4 * a.mean / (sum * sum) * std::sqrt(pooled / b.tips);
    out.difference_percent = {200 * (a.mean - b.mean) / sum, 100 * std::hypot(u_a, u_b),
                              std::max(1.0, a.tips + b.tips - 2.0)};
    return out;
}

// Tips about the mean of their own compartment, in the order they fell.
double neighbours_of(const std::vector<SuppliedTip>& tips) {
    const double mean[] = {group_of(tips, 0).mean, group_of(tips, 1).mean};
    const double of_all = group_of(tips, -1).mean;
    std::vector<double> deviations;
    deviations.reserve(tips.size());
    for (const SuppliedTip& tip : tips)
        deviations.push_back(tip.amount - (tip.side < 0 ? of_all : mean[tip.side]));
    return calib::neighbour_correlation(deviations);
}

// Whether the balance was left alone between the tips: each begins where the one before it ended, within a
// display step. A vessel emptied now and then begins a new chain; one for every ten tips at most.
calib::AmountBy amount_by(const std::vector<SuppliedTip>& tips, double resolution_g) {
    if (tips.size() < 2) return calib::AmountBy::each_tip;
    std::size_t broken = 0;
    for (std::size_t i = 1; i < tips.size(); ++i) {
        const bool joined = tips[i - 1].after_g && tips[i].before_g &&
                            std::abs(*tips[i].before_g - *tips[i - 1].after_g) < 1.5 * resolution_g;
        broken += joined ? 0 : 1;
    }
    return 10 * broken <= tips.size() - 1 ? calib::AmountBy::chained : calib::AmountBy::each_tip;
}

// Between the first tip and the last lie all tips but the first; an even number with two compartments.
std::optional<double> take_times(std::vector<SuppliedTip>& tips, int compartments,
                                 std::vector<std::string>& remarks) {
    if (!tips.front().time_s) return std::nullopt;
    const double opened_s = *tips.front().time_s;
    tips.erase(tips.begin());
    remarks.emplace_back("the first tip opens the collect and is not counted");
    if (compartments == 2 && tips.size() % 2 != 0) {
        tips.pop_back();
        remarks.emplace_back("the last tip was left out to keep an even number");
    }
    if (tips.empty()) return std::nullopt;
    return *tips.back().time_s - opened_s;
}

calib::StepObservation observation_of(int number, const SuppliedStep& step, bool in_mL,
                                      std::optional<double> duration_s, const TipSummary& summary) {
    calib::StepObservation out;
    out.step = number;
    out.set_intensity_mm_h = step.set_intensity_mm_h;
    out.tips = summary.all.tips;
    out.duration_s = duration_s;
    out.is_volume = in_mL;
    out.weighing = calib::WeighingMethod::supplied;
    out.ended = calib::CollectEnd::supplied;
    out.conditions = step.conditions;
    out.remarks = step.remarks;
    out.balance_difference_g = summary.mean * summary.all.tips;
    if (summary.a) {
        const TipGroup& a = *summary.a;
        const TipGroup& b = *summary.b;
        if (a.tips != b.tips)
            out.remarks.push_back(std::to_string(a.tips) + " tips of A and " + std::to_string(b.tips) +
                                  " of B: each compartment counts half");
        const double dof = a.tips + b.tips - 2;
        if (dof > 0) {
            // Scaled so that sd / sqrt(tips) is the uncertainty of the mean of both means.
            const double variance = pooled_variance(a, b) * out.tips * (1.0 / a.tips + 1.0 / b.tips) / 4;
            out.scatter = {100 * std::sqrt(variance) / summary.mean, dof, "single weighings"};
            out.compartments = calib::CompartmentBalance{summary.difference_percent.value / 2,
                                                         summary.difference_percent.u / 2, dof};
        }
    } else if (summary.all.tips > 1) {
        out.scatter = {100 * summary.all.sd / summary.mean, summary.all.tips - 1.0, "single weighings"};
    }
    return out;
}

std::optional<double> amount_in(Table& table, std::size_t row, bool in_mL, const FormInput& input,
                                FaultList& faults) {
    if (in_mL) return table.number(row, "volume_mL", {1e-6, tip_amount_max, "mL"}, true);
    const auto delta = table.number(row, "delta_g", {1e-6, tip_amount_max, "g"});
    if (!table.has("before_g")) {
        if (!delta && table.text(row, "delta_g").empty())
            faults.add(FaultCode::missing_field, table.at(row, "delta_g"), "delta_g is empty",
                       "write the number, or leave the row out");
        return delta;
    }
    const auto released = released_g(table, row, input, faults);
    if (delta && released && !(std::abs(*delta - *released) < 1.5 * input.resolution_g))
        faults.add(FaultCode::inconsistent, table.at(row, "delta_g"),
                   "delta_g is " + shortest(*delta) + ", but before_g and after_g make " +
                       shortest(std::round(*released * 1e6) / 1e6),
                   "check the row");
    return delta ? delta : released;
}

}  // namespace

double TipGroup::u() const {
    return tips > 0 ? sd / std::sqrt(static_cast<double>(tips)) : 0;
}

void read_per_tip(Table& table, const FormInput& input, SuppliedMeasurements& out, FaultList& faults) {
    std::vector<std::string> known = common_columns();
    known.insert(known.end(), {"tip", "compartment", "delta_g", "time_s"});
    table.finish(known);
    table.require_one_of({"tip"});
    const bool in_mL = table.has("volume_mL");
    if (in_mL || !(table.has("delta_g") && table.has("before_g")))
        table.require_one_of({"before_g", "delta_g", "volume_mL"});
    if (table.has("compartment") && input.gauge.compartments == 1)
        faults.add(FaultCode::inconsistent, table.header_at(),
                   "a column compartment is there, but gauge.compartments is 1", "remove one of them");
    std::map<int, SuppliedStep> steps;
    std::set<std::tuple<int, int, int>> seen;
    for (std::size_t row = 0; row < table.rows() && faults.size() < faults_enough; ++row) {
        const std::size_t faults_before = faults.size();
        const int number =
            table.has("step") ? table.whole_number(row, "step", 1, 10000, true).value_or(1) : 1;
        const int tip_number = table.whole_number(row, "tip", 0, 10000000, true).value_or(0);
        SuppliedTip tip;
        tip.row = row;
        if (table.has("compartment")) {
            const std::string word = table.text(row, "compartment");
            const auto side = side_named(word);
            if (!side)
                faults.add(FaultCode::bad_value, table.at(row, "compartment"),
                           "compartment is " + in_quotes(word) + ", must be A or B, left or right, 1 or 2",
                           "");
            tip.side = side.value_or(0);
        }
        const auto amount = amount_in(table, row, in_mL, input, faults);
        if (!in_mL && table.has("before_g") && table.has("after_g")) {
            tip.before_g = table.number(row, "before_g", {-1e6, 1e6, "g"}, false);
            tip.after_g = table.number(row, "after_g", {-1e6, 1e6, "g"}, false);
        }
        tip.time_s = table.number(row, "time_s", {-1e9, 1e10, "s"}, true);
        const double set = set_intensity_in(table, row, input.gauge);
        const calib::Conditions conditions = conditions_in(table, row, input.conditions);
        if (faults.size() == faults_before && !seen.insert({number, tip.side, tip_number}).second)
            faults.add(FaultCode::duplicate, table.at(row, "tip"),
                       "tip " + std::to_string(tip_number) + " is there twice",
                       "number the tips 1, 2, 3, ...");
        if (faults.size() == faults_before && !amount)
            faults.add(FaultCode::missing_field, table.row_at(row), "the row has no mass",
                       "write before_g and after_g, or delta_g, or leave the row out");
        if (faults.size() != faults_before) continue;
        tip.amount = *amount;
        const auto [entry, first] = steps.try_emplace(number);
        SuppliedStep& step = entry->second;
        if (first) {
            step.first_row = row;
            step.set_intensity_mm_h = set;
            step.conditions = conditions;
        } else if (set != step.set_intensity_mm_h) {
            faults.add(FaultCode::inconsistent, table.row_at(row),
                       "the set rate changes within step " + std::to_string(number),
                       "give each rate its own step");
        }
        if (tip.time_s && !step.tips.empty() && !(*tip.time_s > *step.tips.back().time_s))
            faults.add(FaultCode::inconsistent, table.at(row, "time_s"),
                       "time_s " + shortest(*tip.time_s) + " is not after that of the tip before, " +
                           shortest(*step.tips.back().time_s),
                       "sort the tips by time");
        if (std::string remark = table.text(row, "remark"); !remark.empty())
            step.remarks.push_back("tip " + std::to_string(tip_number) + ": " + remark);
        step.tips.push_back(tip);
    }
    if (!faults.empty()) return;
    for (auto& [number, step] : steps) {
        const bool timed = step.tips.front().time_s.has_value();
        const auto duration_s = take_times(step.tips, input.gauge.compartments, step.remarks);
        if (timed && !duration_s) {
            faults.add(FaultCode::too_few_points, table.row_at(step.first_row),
                       "step " + std::to_string(number) + " has too few tips with times",
                       "give at least " + std::to_string(input.gauge.compartments + 1));
            continue;
        }
        const TipSummary summary = summary_of(number, in_mL, step.tips);
        if (table.has("compartment") && !summary.a)
            faults.add(FaultCode::too_few_points, table.row_at(step.first_row),
                       "step " + std::to_string(number) + " has tips of one compartment only",
                       "measure both compartments");
        calib::StepObservation observation = observation_of(number, step, in_mL, duration_s, summary);
        observation.amount_by = in_mL ? calib::AmountBy::each_tip : amount_by(step.tips, input.resolution_g);
        observation.scatter.neighbours = neighbours_of(step.tips);
        observation.scatter.neighbours_of = static_cast<double>(step.tips.size());
        check_plausible(table, step.first_row, observation, input.gauge, faults);
        out.observations.push_back(std::move(observation));
        out.tips.push_back(summary);
    }
}

}  // namespace tipwright::bench
