#include "calib/trial/shortest_plan.hpp"

#include <nlopt.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "calib/trial/plan_precision.hpp"

namespace tipwright::calib::trial {

namespace {

constexpr int interior_points = 12;  // candidates between the ends

struct Candidate {
    std::vector<double> intensities;
    std::vector<StepModel> steps;
    std::vector<double> fewest;
    std::vector<bool> demanded;
    std::vector<double> tips;
    double seconds = infinite_dof;
};

double seconds_of(const std::vector<StepModel>& steps, const std::vector<double>& tips) {
    double out = 0;
    for (std::size_t j = 0; j < steps.size(); ++j) out += steps[j].seconds(tips[j]);
    return out;
}

struct Search {
    const PlanPrecision* planner = nullptr;
    const Candidate* candidate = nullptr;
    Eigen::MatrixXd shared;
    double wanted = 0;
    double U(const std::vector<double>& tips_now) const {
        return planner->largest_U(candidate->steps, tips_now, shared, planner->parameters());
    }
    std::vector<double> tips(const double* x) const {
        std::vector<double> out;
        for (std::size_t j = 0; j < candidate->steps.size(); ++j) out.push_back(std::exp(x[j]));
        return out;
    }
};

double time_objective(unsigned, const double* x, double*, void* data) {
    const auto& search = *static_cast<const Search*>(data);
    return seconds_of(search.candidate->steps, search.tips(x)) / 3600;
}
double precision_constraint(unsigned, const double* x, double*, void* data) {
    const auto& search = *static_cast<const Search*>(data);
    const double U = search.U(search.tips(x));
    return std::isfinite(U) ? std::log(U / search.wanted) : 1e3;
}

// Tips for the least time at these intensities; seconds stay infinite where no number of tips does.
void fill_tips(const PlanPrecision& planner, Candidate& candidate, double wanted) {
    const std::size_t n = candidate.steps.size();
    const std::vector<double> most(n, most_tips);
    if (!(planner.largest_U(candidate.steps, most) <= wanted)) return;
    Search search{&planner, &candidate, planner.shared_by(candidate.steps), wanted};
    std::vector<double> low(n), high(n, std::log(most_tips)), x(n);
    for (std::size_t j = 0; j < n; ++j) {
        low[j] = std::log(candidate.fewest[j]);
        x[j] = std::clamp(std::log(30.0), low[j], high[j]);
    }
    nlopt_opt optimiser = nlopt_create(NLOPT_LN_COBYLA, static_cast<unsigned>(n));
    nlopt_set_min_objective(optimiser, time_objective, &search);
    nlopt_add_inequality_constraint(optimiser, precision_constraint, &search, 1e-4);
    nlopt_set_lower_bounds(optimiser, low.data());
    nlopt_set_upper_bounds(optimiser, high.data());
    nlopt_set_initial_step1(optimiser, 0.7);
    nlopt_set_xtol_rel(optimiser, 1e-3);
    nlopt_set_maxeval(optimiser, 250);
    double value = 0;
    (void)nlopt_optimize(optimiser, x.data(), &value);
    nlopt_destroy(optimiser);
    // Whole even numbers: up, further up until it is precise enough, then down where that saves most.
    std::vector<double> tips = search.tips(x.data());
    for (std::size_t j = 0; j < n; ++j)
        tips[j] =
            std::min<double>(most_tips, std::max(candidate.fewest[j], 2 * std::ceil(tips[j] / 2 - 1e-6)));
    const auto good = [&] { return search.U(tips) <= wanted; };
    for (int round = 0; round < 60 && !good(); ++round)
        for (double& one : tips) one = std::min<double>(most_tips, 2 * std::ceil(1.05 * one / 2));
    if (!good()) return;
    for (bool saved = true; saved;) {
        saved = false;
        std::vector<std::size_t> order(n);
        for (std::size_t j = 0; j < n; ++j) order[j] = j;
        std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
            return candidate.steps[a].interval_s > candidate.steps[b].interval_s;
        });
        for (std::size_t j : order) {
            for (double less : {16.0, 2.0}) {
                if (tips[j] - less < candidate.fewest[j]) continue;
                tips[j] -= less;
                if (good()) {
                    saved = true;
                    break;
                }
                tips[j] += less;
            }
        }
    }
    candidate.tips = tips;
    candidate.seconds = seconds_of(candidate.steps, tips);
}

DesignedPlan plan_of(const PlanPrecision& planner, const Candidate& candidate) {
    DesignedPlan out;
    for (std::size_t j = 0; j < candidate.steps.size(); ++j)
        out.steps.push_back({candidate.intensities[j], static_cast<int>(candidate.tips[j]),
                             candidate.steps[j].seconds(candidate.tips[j]) / 60, candidate.demanded[j]});
    std::sort(out.steps.begin(), out.steps.end(),
              [](const PlannedStep& a, const PlannedStep& b) { return a.intensity_mm_h < b.intensity_mm_h; });
    out.minutes = (candidate.seconds + planner.wetting_s()) / 60;
    out.U_percent = planner.largest_U(candidate.steps, candidate.tips);
    out.U_free_percent =
        planner.largest_U(candidate.steps, candidate.tips, planner.shared_by(candidate.steps), 3);
    return out;
}

constexpr double same_intensity = 1.08;

// Demanded steps, and the ends of the range where no demanded one lies.
Result<Candidate> base_of(const PlanPrecision& planner) {
    Candidate out;
    const PlanQuestion& question = planner.question();
    const auto add = [&](double intensity, int tips, bool demanded) -> Outcome {
        auto step = planner.model(intensity);
        if (!step) return step.fault();
        out.intensities.push_back(intensity);
        out.steps.push_back(std::move(*step));
        out.fewest.push_back(std::max(fewest_tips, tips));
        out.demanded.push_back(demanded);
        return Done{};
    };
    for (const PlanStep& step : question.demanded)
        if (auto added = add(step.intensity_mm_h, step.min_tips, true); !added) return added.fault();
    for (double end : {question.from_mm_h, question.to_mm_h}) {
        const bool there = std::any_of(out.intensities.begin(), out.intensities.end(), [&](double other) {
            return std::abs(std::log(other / end)) < std::log(same_intensity);
        });
        if (there) continue;
        if (auto added = add(end, fewest_tips, false); !added) return added.fault();
    }
    return out;
}

struct Candidates {
    std::vector<Candidate> all;
};

// The base with up to so many of the interior grid's intensities; at least one step more than parameters, so
// that the form can be told to be wrong.
Result<Candidates> candidates_of(const PlanPrecision& planner) {
    auto base = base_of(planner);
    if (!base) return base.fault();
    const PlanQuestion& question = planner.question();
    std::vector<std::pair<double, StepModel>> interior;
    for (int i = 1; i <= interior_points; ++i) {
        double intensity = question.from_mm_h * std::pow(question.to_mm_h / question.from_mm_h,
                                                         static_cast<double>(i) / (interior_points + 1));
        intensity = intensity < 20 ? std::round(10 * intensity) / 10 : std::round(intensity);
        const bool near = std::any_of(base->intensities.begin(), base->intensities.end(), [&](double other) {
            return std::abs(std::log(other / intensity)) < std::log(same_intensity);
        });
        if (near) continue;
        auto step = planner.model(intensity);
        if (!step) return step.fault();
        interior.emplace_back(intensity, std::move(*step));
    }
    const std::size_t least = question.expected.curved ? 4 : 3;
    Candidates out;
    const auto with = [&](const std::vector<std::size_t>& chosen) {
        if (base->steps.size() + chosen.size() < least) return;
        Candidate one = *base;
        for (std::size_t i : chosen) {
            one.intensities.push_back(interior[i].first);
            one.steps.push_back(interior[i].second);
            one.fewest.push_back(fewest_tips);
            one.demanded.push_back(false);
        }
        out.all.push_back(std::move(one));
    };
    with({});
    for (std::size_t i = 0; i < interior.size(); ++i) {
        with({i});
        for (std::size_t j = i + 1; j < interior.size(); ++j) with({i, j});
    }
    return out;
}

Result<DesignedPlan> best_of(const PlanPrecision& planner, const Candidates& candidates, double wanted) {
    Candidate best;
    double reached = infinite_dof;
    for (const Candidate& candidate : candidates.all) {
        const std::vector<double> most(candidate.steps.size(), most_tips);
        reached = std::min(reached, planner.largest_U(candidate.steps, most));
        // What the fewest tips take already is too long.
        if (seconds_of(candidate.steps, candidate.fewest) >= best.seconds) continue;
        Candidate filled = candidate;
        fill_tips(planner, filled, wanted);
        if (filled.seconds < best.seconds) best = std::move(filled);
    }
    if (!std::isfinite(best.seconds))
        return Fault{FaultCode::no_convergence,
                     "U(h) of " + std::to_string(wanted) +
                         " % is out of reach: the bench and the rim alone leave " + std::to_string(reached) +
                         " %",
                     "plan", "want less, or measure the catch diameter and the balance better"};
    return plan_of(planner, best);
}

}  // namespace

Result<DesignedPlan> rate_plan(const PlanQuestion& question, const std::vector<PlanStep>& steps) {
    const auto planner = PlanPrecision::of(question);
    if (!planner) return planner.fault();
    Candidate candidate;
    for (const PlanStep& step : steps) {
        auto model = planner->model(step.intensity_mm_h);
        if (!model) return model.fault();
        for (int repeat = 0; repeat < step.repeats; ++repeat) {
            candidate.intensities.push_back(step.intensity_mm_h);
            candidate.steps.push_back(*model);
            candidate.tips.push_back(step.min_tips);
            candidate.demanded.push_back(false);
        }
    }
    candidate.seconds = seconds_of(candidate.steps, candidate.tips);
    DesignedPlan out = plan_of(*planner, candidate);
    if (!std::isfinite(out.U_percent))
        return Fault{FaultCode::too_few_points, "the steps do not determine the curve", "plan",
                     "give steps at more intensities"};
    return out;
}

Result<DesignedPlan> shortest_plan(const PlanQuestion& question) {
    const auto planner = PlanPrecision::of(question);
    if (!planner) return planner.fault();
    const auto candidates = candidates_of(*planner);
    if (!candidates) return candidates.fault();
    return best_of(*planner, *candidates, question.wanted_U_percent);
}

std::vector<DesignedPlan> time_against_precision(const PlanQuestion& question,
                                                 const std::vector<double>& wanted) {
    std::vector<DesignedPlan> out;
    const auto planner = PlanPrecision::of(question);
    if (!planner) return out;
    const auto candidates = candidates_of(*planner);
    if (!candidates) return out;
    for (double U : wanted)
        if (auto plan = best_of(*planner, *candidates, U)) out.push_back(std::move(*plan));
    return out;
}

}  // namespace tipwright::calib::trial
