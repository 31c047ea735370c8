// What results have in common: causes of steps, runs and years, degrees of freedom counted once, tests of the
// form that take variances as estimated. Truth is drawn anew in every trial; generator and seed are stated.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/decision/comparison.hpp"
#include "calib/decision/drift.hpp"
#include "calib/decision/evaluation.hpp"
#include "calib/rate/correction.hpp"
#include "calib/statistics/contributions.hpp"
#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using test::KnownGauge;

namespace {

const BudgetComponent* component(const StepResult& step, const std::string& id) {
    const auto found =
        std::find_if(step.budget.begin(), step.budget.end(), [&](const auto& one) { return one.id == id; });
    return found == step.budget.end() ? nullptr : &*found;
}

// Single tips of known volume, weighed on a balance whose scale errs by a constant for such loads.
StepObservation supplied(const KnownGauge& known, int number, double intensity, int tips, AmountBy how,
                         double mass_g) {
    StepObservation seen = known.step(number, intensity, tips).observation;
    seen.weighing = WeighingMethod::supplied;
    seen.amount_by = how;
    seen.balance_difference_g = mass_g;
    seen.scatter = {0.5, tips - 1.0, "single weighings"};
    return seen;
}

}  // namespace

// Linearity 0.02 g: a step of 10 tips of 6.3 g weighed one by one has 10 x 0.02/sqrt 3 g of 63 g, 0.18 %; in
// a chain 0.02/sqrt 3 of 63 g, 0.018 %; the 100 tips of the other step have no part in it.
TEST_CASE("linearity counts once for each tip weighed by itself, once for a chain, by the step's own tips") {
    KnownGauge known;
    known.bench.balance.linearity_half_width_g = 0.02;
    known.bench.balance.resolution_g = 0.001;
    const auto u_of = [&](int tips, AmountBy how) {
        const double mass = known.step(1, 20, tips).observation.balance_difference_g;
        const auto step = evaluate_step(supplied(known, 1, 20, tips, how, mass), known.gauge, known.bench);
        REQUIRE(step);
        const BudgetComponent* linearity = component(*step, "balance_linearity");
        REQUIRE(linearity != nullptr);
        return linearity->u * linearity->dlnV * 100;
    };
    const double tip_g = known.step(1, 20, 10).observation.balance_difference_g / 10;
    const double one_tip = 100 * 0.02 / std::sqrt(3.0) / tip_g;
    CHECK(u_of(10, AmountBy::each_tip) == Approx(one_tip).epsilon(1e-3));
    CHECK(u_of(100, AmountBy::each_tip) == Approx(one_tip).epsilon(1e-3));
    CHECK(u_of(10, AmountBy::chained) == Approx(one_tip / 10).epsilon(1e-3));
    CHECK(u_of(100, AmountBy::chained) == Approx(one_tip / 100).epsilon(1e-3));
}

TEST_CASE(
    "what the reading of a balance or a measure adds to single tips is part of their scatter, where that is "
    "known") {
    KnownGauge known;
    const double mass = known.step(1, 20, 10).observation.balance_difference_g;
    for (const bool is_volume : {false, true}) {
        const std::string id = is_volume ? "volume_reading" : "balance_repeatability";
        const auto has_reading = [&](AmountBy how, double dof) {
            StepObservation seen = supplied(known, 1, 20, 10, how, mass);
            seen.is_volume = is_volume;
            seen.scatter.dof = dof;
            const auto step = evaluate_step(seen, known.gauge, known.bench);
            REQUIRE(step);
            return component(*step, id) != nullptr;
        };
        INFO(id);
        CHECK_FALSE(has_reading(AmountBy::each_tip, 9));
        CHECK(has_reading(AmountBy::each_tip, 0));
        CHECK(has_reading(AmountBy::chained, 9));
    }
}

TEST_CASE("a balance that shows all its digits adds no rounding to tips that are all alike") {
    KnownGauge known;
    known.bench.balance.resolution_g = 0;
    const double mass = known.step(1, 20, 10).observation.balance_difference_g;
    StepObservation seen = supplied(known, 1, 20, 10, AmountBy::each_tip, mass);
    seen.scatter.sd_percent = 0;
    const auto step = evaluate_step(seen, known.gauge, known.bench);
    REQUIRE(step);
    CHECK(component(*step, "balance_resolution") == nullptr);
    CHECK(std::isfinite(step->error_percent.u));
}

TEST_CASE("where on its scale a balance stood is told of supplied weighings alone") {
    KnownGauge known;
    const double mass = known.step(1, 20, 10).observation.balance_difference_g;
    StepObservation seen = supplied(known, 1, 20, 10, AmountBy::chained, mass);
    CHECK(component(*evaluate_step(seen, known.gauge, known.bench), "balance_linearity")->at == Approx(mass));
    seen.weighing = WeighingMethod::plateau;
    CHECK(component(*evaluate_step(seen, known.gauge, known.bench), "balance_linearity")->at == 0);
}

// Two steps, 10 tips at 20 mm/h and 100 at 100 mm/h. 400 gauges, Mersenne twister seed 5:
// the balance errs alike for every tip (tared) or at the ends (chained); h at the longest and the shortest
// interval holds the truth about as often as it says, and never by the form "constant".
TEST_CASE("two steps of single tips: the correction holds the truth, tared and chained") {
    std::mt19937_64 generator(5);
    std::normal_distribution<double> normal;
    std::uniform_real_distribution<double> unit(-1, 1);
    for (const AmountBy how : {AmountBy::each_tip, AmountBy::chained}) {
        INFO((how == AmountBy::each_tip ? "tared" : "chained"));
        int inside = 0;
        int stated = 0;
        int constant = 0;
        double largest_U = 0;
        constexpr int gauges = 400;
        for (int k = 0; k < gauges; ++k) {
            KnownGauge known;
            known.bench.balance.linearity_half_width_g = 0.01;
            known.bench.balance.resolution_g = 0.001;
            known.bench.balance.repeatability_g = 0.0014;
            const double true_diameter = 200 + 0.05 * normal(generator);
            const double of_scale_g = 0.01 * unit(generator);
            std::vector<StepObservation> observations;
            for (const auto& [intensity, tips] : {std::pair{20.0, 10}, std::pair{100.0, 100}}) {
                const StepObservation ideal = known.step(1, intensity, tips).observation;
                const double tip_g = ideal.balance_difference_g / tips;
                double mass = 0;
                double squares = 0;
                for (int i = 0; i < tips; ++i) {
                    const double deviation = 0.005 * tip_g * normal(generator);
                    mass += tip_g + deviation + (how == AmountBy::each_tip ? of_scale_g : 0);
                    squares += deviation * deviation;
                }
                if (how == AmountBy::chained) mass += of_scale_g;
                auto seen = supplied(known, intensity < 50 ? 1 : 2, intensity, tips, how, mass);
                seen.scatter.sd_percent = 100 * std::sqrt(squares / (tips - 1)) / tip_g;
                observations.push_back(seen);
            }
            const auto evaluation = evaluate(observations, known.gauge, known.bench, Plan{});
            REQUIRE(evaluation);
            REQUIRE(evaluation->correction);
            constant += evaluation->model->chosen == RateForm::constant ? 1 : 0;
            largest_U = std::max(largest_U, evaluation->steps[0].error_expanded.U);
            const double true_area = std::pow(true_diameter / 20, 2) * 3.14159265358979;
            for (const CorrectionRow* row :
                 {&evaluation->correction->rows.front(), &evaluation->correction->rows.back()}) {
                // v = V0 + tau Q with Q = v/T.
                const double volume = known.v0_mL / (1 - known.tau_s / row->interval_s);
                const double truth = 10 * volume / true_area;
                ++stated;
                inside += std::abs(row->depth_mm.value - truth) <= expanded(row->depth_mm).U ? 1 : 0;
            }
        }
        CHECK(constant == 0);
        CHECK(largest_U < 0.9);
        const double percent = 100.0 * inside / stated;
        INFO(percent << " % of " << stated << " intervals");
        // 800 intervals, two of each gauge alike: one standard deviation is 1 %.
        CHECK(percent > 92);
    }
}

TEST_CASE("a measure's error is in common to all steps: h holds the truth") {
    std::mt19937_64 generator(11);
    std::normal_distribution<double> normal;
    int inside = 0;
    int stated = 0;
    for (int k = 0; k < 300; ++k) {
        KnownGauge known;
        // Of a measure: its own error, and a small one of reading it.
        known.bench.balance.linearity_half_width_g = 0.5 * std::sqrt(3.0);
        known.bench.balance.repeatability_g = 0.05;
        known.bench.balance.repeatability_dof = infinite_dof;
        const double error_mL = 0.5 * normal(generator);
        const double diameter = 200 + 0.05 * normal(generator);
        std::vector<StepObservation> observations;
        int number = 0;
        for (const double intensity : {20.0, 50.0, 100.0, 200.0}) {
            StepObservation seen = known.step(++number, intensity, 60).observation;
            seen.is_volume = true;
            seen.weighing = WeighingMethod::supplied;
            const double tip = known.volume_mL(intensity);
            seen.balance_difference_g =
                60 * tip * (1 + 0.005 / std::sqrt(60.0) * normal(generator)) + error_mL;
            observations.push_back(seen);
        }
        const auto evaluation = evaluate(observations, known.gauge, known.bench, Plan{});
        REQUIRE(evaluation);
        REQUIRE(evaluation->correction);
        const double area = std::pow(diameter / 20, 2) * 3.14159265358979;
        for (const CorrectionRow& row : evaluation->correction->rows) {
            const double truth = 10 * known.v0_mL / (1 - known.tau_s / row.interval_s) / area;
            ++stated;
            inside += std::abs(row.depth_mm.value - truth) <= expanded(row.depth_mm).U ? 1 : 0;
        }
    }
    INFO(100.0 * inside / stated);
    CHECK(100.0 * inside / stated > 92.5);  // rows of one gauge go together: one standard deviation is 1.2 %
    CHECK(100.0 * inside / stated < 98);
}

TEST_CASE("u of V0 and tau and their covariance are the same, doubt about the form included") {
    int doubted = 0;
    std::mt19937_64 generator(3);
    std::normal_distribution<double> normal;
    for (int k = 0; k < 200; ++k) {
        KnownGauge known;
        known.tau_s = 0.02;
        std::vector<StepResult> steps;
        int number = 0;
        for (const double intensity : {20.0, 50.0, 100.0, 150.0, 200.0}) {
            StepObservation seen = known.step(++number, intensity).observation;
            const double factor = 1 + 0.005 / std::sqrt(60.0) * normal(generator);
            seen.balance_difference_g *= factor;
            seen.duration_s = *seen.duration_s * factor;
            steps.push_back(*evaluate_step(seen, known.gauge, known.bench));
        }
        const auto model = fit_rate_model(steps);
        REQUIRE(model);
        const RateCandidate* fit = model->chosen_candidate();
        if (fit == nullptr) continue;
        for (std::size_t p = 0; p < fit->parameters.size(); ++p)
            CHECK(std::sqrt(fit->covariance[p][p]) == Approx(fit->parameters[p].u).epsilon(1e-9));
        doubted += fit->form == RateForm::line ? 1 : 0;
    }
    CHECK(doubted > 10);  // the case is met
}

// Scatter pooled over five steps of 59 degrees of freedom each is known by 295, for every step and for V0.
TEST_CASE("degrees of freedom of an estimate used by several steps count once") {
    const std::vector<Contribution> same = {{"a", "pooled", 0.3, 10}, {"b", "pooled", 0.4, 10}};
    CHECK(combined(0, same).dof == Approx(10));
    const std::vector<Contribution> own = {{"a", "", 0.3, 10}, {"b", "", 0.4, 10}};
    // Welch-Satterthwaite: 0.25^2/((0.3^4 + 0.4^4)/10).
    CHECK(combined(0, own).dof == Approx(0.0625 * 10 / (0.0081 + 0.0256)));
    CHECK(combined(0, own).u == Approx(0.5));
    // One cause, opposite signs: what is in common cancels.
    const std::vector<Contribution> opposite = {{"a", "", 0.3, infinite_dof}, {"a", "", -0.3, infinite_dof}};
    CHECK(combined(0, opposite).u == Approx(0).margin(1e-15));
}

// Sound gauges whose volume is a straight line: how often is one denied every form? Each step's scatter is
// estimated from few tips. Simulation, Mersenne twister seed 9.
TEST_CASE("fewer than one sound gauge in a hundred is left with a table") {
    std::mt19937_64 generator(9);
    std::normal_distribution<double> normal;
    constexpr int gauges = 1500;
    for (const int tips : {8, 60}) {
        int tables = 0;
        int widened = 0;
        int inside = 0;
        for (int k = 0; k < gauges; ++k) {
            KnownGauge known;
            known.bench.balance.linearity_half_width_g = 0;
            std::vector<StepObservation> seen_steps;
            int number = 0;
            for (const double intensity : {20.0, 50.0, 100.0, 150.0, 200.0}) {
                StepObservation seen = known.step(++number, intensity, tips).observation;
                std::chi_squared_distribution<double> chi2(tips - 1);
                const double factor = 1 + 0.01 / std::sqrt(1.0 * tips) * normal(generator);
                seen.balance_difference_g *= factor;
                seen.duration_s = *seen.duration_s * factor;
                const double sd = 1.0 * std::sqrt(chi2(generator) / (tips - 1));
                seen.scatter = {sd, tips - 1.0, "intervals"};
                seen_steps.push_back(seen);
            }
            const auto evaluation = evaluate(seen_steps, known.gauge, known.bench, Plan{});
            REQUIRE(evaluation);
            const auto& model = evaluation->model;
            REQUIRE(model);
            tables += model->chosen == RateForm::table ? 1 : 0;
            if (const RateCandidate* fit = model->chosen_candidate()) {
                widened += fit->passes ? 0 : 1;
                inside += std::abs(fit->parameters[0].value - known.v0_mL) <= expanded(fit->parameters[0]).U
                              ? 1
                              : 0;
            }
        }
        INFO(tips << " tips: " << tables << " tables, " << widened << " widened, V0 inside " << inside);
        CHECK(tables < gauges / 100);
        CHECK(100.0 * inside / gauges > 93);
    }
}

// Five yearly records of one gauge, its error moving by 0.19 % a year: rim and balance are the same every
// year.
TEST_CASE("a drift of 0.19 % a year is told from five yearly records of one rim and balance") {
    KnownGauge known;
    known.gauge.catch_diameter_mm.u = 0.2;  // 0.2 % of the area: would hide it
    std::mt19937_64 generator(2);
    std::normal_distribution<double> normal;
    std::vector<ErrorCurve> years;
    for (int year = 0; year < 5; ++year) {
        KnownGauge now = known;
        now.v0_mL = known.v0_mL * (1 - 0.0019 * year);
        std::vector<StepResult> steps;
        int number = 0;
        for (const double intensity : {20.0, 50.0, 100.0, 200.0}) {
            StepObservation seen = now.step(++number, intensity, 100).observation;
            const double factor = 1 + 0.003 / 10 * normal(generator);
            seen.balance_difference_g *= factor;
            seen.scatter = {0.3, 99, "intervals"};
            const CommonCauses causes{"run " + std::to_string(year), "rim 1", "balance 7", "", "counter 2"};
            const auto step =
                evaluate_step(seen, known.gauge, known.bench, default_coverage, seen.scatter, causes);
            REQUIRE(step);
            steps.push_back(*step);
        }
        auto curve = error_curve("year " + std::to_string(year), year, steps);
        REQUIRE(curve);
        years.push_back(*curve);
    }
    const auto rows = compare(years.front(), years.back(), {100});
    REQUIRE(rows);
    CHECK(std::abs((*rows)[0].en) > 4);
    std::vector<ServiceStretch> stretches;
    for (int n = 1; n < 5; ++n) {
        const auto index = static_cast<std::size_t>(n);
        stretches.push_back({1.0 * n - 1, *error_at(years[index - 1], 100), 1.0 * n,
                             *error_at(years[index], 100), parts_at(years[index - 1], 100),
                             parts_at(years[index], 100)});
    }
    const auto drift = drift_per_year(stretches);
    REQUIRE(drift);
    CHECK(drift->significant);
    CHECK(drift->percent_per_year.value == Approx(0.19).margin(0.04));
    const double U = expanded(drift->percent_per_year).U;
    CHECK(U < 0.045);
    CHECK(U > 0.015);
    // As if nothing were in common, it was hidden.
    for (ServiceStretch& stretch : stretches) stretch.left_parts = stretch.found_parts = {};
    CHECK_FALSE(drift_per_year(stretches)->significant);
}
