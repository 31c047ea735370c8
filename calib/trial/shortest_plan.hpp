// Shortest plan: which intensities and how many tips give the correction h over a range with a wanted
// expanded uncertainty in the least bench time.
//   minimise sum_j (settle_j + N_j T_j)   subject to   max over I of U(h)(I)/h(I) <= wanted,   N_j even
// U(h) is that of generalised least squares of v = V0 + tau Q (or with c Q^2) over the steps with the full
// covariance that their budgets give (calib/rate/step_result.hpp): design after Atkinson, Donev & Tobias
// 2007, Optimum Experimental Designs, chapter 10 (G-optimality: the largest variance over the range is what
// counts), with time in the place of the number of runs. The ends of the range are always measured: a
// correction holds no further than its steps; demanded steps are kept with no fewer tips than demanded.
// Interior steps by enumeration of a grid, tips by COBYLA (NLopt) and then whole even numbers downwards.
// Units: mm/h, s, per cent. Errors: U(h) within 10 % of the correction's own
// (tests/calib/trial/shortest_plan_test.cpp); the time leaves out what runs take besides (priming, emptying
// the vessel), for every plan alike. Faults: bad_value (a range, a wanted U), no_convergence (even the most
// tips do not reach it: says what they do).
#pragma once

#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/base/plan.hpp"
#include "calib/tips/observation.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::calib::trial {

// What is expected of the gauge, from its kind or an earlier record.
struct ExpectedGauge {
    Gauge gauge;
    double volume_per_tip_mL = 0;    // V0
    double movement_s = 0.3;         // tau
    double curvature_s2_mL = 0;      // c
    double tip_scatter_percent = 1;  // of single tips
    bool curved = false;             // c is to be determined too
};

struct PlannedStep {
    double intensity_mm_h = 0;
    int tips = 0;
    double minutes = 0;  // settling and collecting
    bool demanded = false;
};

struct PlanQuestion {
    ExpectedGauge expected;
    BenchMetrology bench;
    double from_mm_h = 6;
    double to_mm_h = 254;
    double wanted_U_percent = 0.5;
    double coverage = 0.95;
    int settle_tips = 2;  // as few as a run lets pass
    double settle_s = 20;
    double wetting_intensity_mm_h = 60;
    int wetting_tips = 16;
    std::vector<PlanStep> demanded;
};

struct DesignedPlan {
    // In the order they are to be run, upwards: after the last one a run waits for tips of that rate.
    std::vector<PlannedStep> steps;
    double minutes = 0;    // wetting included
    double U_percent = 0;  // largest of h over the range, the form taken for granted
    // The same with c to be determined too. An evaluation that cannot tell line and curve apart (four steps
    // and more) states about this: it weighs both, calib/rate/rate_model_evaluation.cpp.
    double U_free_percent = 0;
};

// Of a step: fewer tell nothing of their scatter, and a run goes on until it is known.
inline constexpr int fewest_tips = 4;
inline constexpr int most_tips = 2000;

// Of given steps: their time and the largest U(h) over the range.
Result<DesignedPlan> rate_plan(const PlanQuestion& question, const std::vector<PlanStep>& steps);
Result<DesignedPlan> shortest_plan(const PlanQuestion& question);
// What runs of a plan will state, from runs drawn by its own budget and evaluated as a run's record is:
// scatter known from few tips, and the test of the form, which rejects a true form in one of twenty runs and
// widens U then (calib/rate/rate_model.hpp), make U differ from run to run. Deterministic; error of a share
// below 0.07 (200 runs).
struct PlanPromise {
    int runs = 0;
    double kept = 0;  // share that state no more than the wanted U, as it is printed with two figures
    double U_middle_percent = 0;  // of half of the runs no more
    double U_most_percent = 0;    // of 95 % of the runs no more
    double form_rejected = 0;     // share in which no form passes, or another than the expected one is chosen
    double U_rejected_percent = 0;  // middle of those; 0: none
};
inline constexpr int promise_runs = 200;
Result<PlanPromise> promise_of(const PlanQuestion& question, const DesignedPlan& plan);

// The shortest plans for several wanted uncertainties, ascending U; those no plan reaches are left out.
std::vector<DesignedPlan> time_against_precision(const PlanQuestion& question,
                                                 const std::vector<double>& wanted);

}  // namespace tipwright::calib::trial
