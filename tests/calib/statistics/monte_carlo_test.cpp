#include "calib/statistics/monte_carlo.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <string>

#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {

void sum_of_four(std::size_t count, const double* const* x, double* const* y) {
    for (std::size_t t = 0; t < count; ++t) y[0][t] = x[0][t] + x[1][t] + x[2][t] + x[3][t];
}

// JCGM 101:2008 eq. (34): deviation of a weight from its nominal mass, mg.
void mass_deviation(std::size_t count, const double* const* x, double* const* y) {
    for (std::size_t t = 0; t < count; ++t) {
        y[0][t] = (x[0][t] + x[1][t]) * (1 + (x[2][t] - 1.2) * (1 / x[3][t] - 1 / x[4][t])) - 100000;
    }
}

MonteCarloInputs mass_inputs() {
    const PublishedTable table("jcgm101_9_3_inputs.csv");
    MonteCarloInputs inputs;
    for (const char* quantity : {"mRc", "dmRc", "rhoa", "rhoW", "rhoR"}) {
        const std::size_t row = table.row_of(quantity);
        const double expectation = table.number(row, "expectation");
        inputs.distributions.push_back(
            table.text(row, "distribution") == "normal"
                ? normal_input(expectation, table.number(row, "standard_deviation"))
                : rectangular_input(expectation,
                                    (table.number(row, "upper") - table.number(row, "lower")) / 2));
    }
    return inputs;
}

std::size_t row_of(const PublishedTable& table, const std::string& example, const std::string& method) {
    for (std::size_t i = 0; i < table.rows(); ++i) {
        if (table.text(i, "example") == example && table.text(i, "method") == method) return i;
    }
    throw std::runtime_error("no row " + example + " " + method);
}

MonteCarloOptions fixed_trials(std::size_t trials, std::uint64_t seed) {
    MonteCarloOptions options;
    options.adaptive = false;
    options.max_trials = trials;
    options.seed = seed;
    return options;
}

}  // namespace

TEST_CASE("JCGM 101:2008 9.2, additive model") {
    const PublishedTable table("jcgm101.csv");
    const double root3 = std::sqrt(3.0);
    const struct {
        const char* example;
        const char* method;
        InputDistribution first;
        InputDistribution last;
        double digit;  // half of the last digit printed
    } cases[] = {
        {"9.2.2_normal", "MCM_1e6", normal_input(0, 1), normal_input(0, 1), 0.005},
        {"9.2.3_rectangular_u1", "MCM_1e6", rectangular_input(0, root3), rectangular_input(0, root3), 0.005},
        {"9.2.4_rectangular_u4_10", "MCM", rectangular_input(0, root3), rectangular_input(0, 10 * root3),
         0.05}};
    for (const auto& c : cases) {
        CAPTURE(c.example);
        MonteCarloInputs inputs{{c.first, c.first, c.first, c.last}, {}};
        const auto result = run_monte_carlo(inputs, 1, sum_of_four, fixed_trials(1'000'000, 92));
        REQUIRE(result);
        CHECK(result->trials == 1'000'000);
        const std::size_t row = row_of(table, c.example, c.method);
        const MonteCarloOutput& y = result->outputs[0];
        // Both runs scatter: the printed one and this one, at the ends by 2.7 u/sqrt(M) each.
        const double scatter = c.digit + 3 * std::sqrt(2.0) * 2.7 * y.u / 1000;
        CHECK(y.mean == Approx(0).margin(4 * y.u / 1000));
        CHECK(y.u == Approx(table.number(row, "u")).margin(2 * c.digit));
        CHECK(y.intervals.symmetric.low == Approx(table.number(row, "low95")).margin(scatter));
        CHECK(y.intervals.symmetric.high == Approx(table.number(row, "high95")).margin(scatter));
    }
}

TEST_CASE("JCGM 101:2008 9.3, mass calibration, and the verdict on the GUM framework") {
    const PublishedTable table("jcgm101.csv");
    const auto result = run_monte_carlo(mass_inputs(), 1, mass_deviation, fixed_trials(4'000'000, 93));
    REQUIRE(result);
    const MonteCarloOutput& y = result->outputs[0];
    // Scatter over independent runs of 4e6 trials: 4e-5 of u, 4e-4 of the ends of the shortest interval.
    const std::size_t exact = row_of(table, "9.3_mass_mg", "exact_recomputed");
    CHECK(y.mean == Approx(table.number(exact, "y")).margin(1.5e-4));
    CHECK(y.u == Approx(table.number(exact, "u")).margin(1.2e-4));
    CHECK(y.intervals.shortest.low == Approx(table.number(exact, "low95")).margin(1.5e-3));
    CHECK(y.intervals.shortest.high == Approx(table.number(exact, "high95")).margin(1.5e-3));
    CHECK(y.intervals.symmetric.low == Approx(table.number(exact, "low95")).margin(4e-4));
    CHECK(y.intervals.symmetric.high == Approx(table.number(exact, "high95")).margin(4e-4));
    const std::size_t printed = row_of(table, "9.3_mass_mg", "MCM");
    CHECK(y.u == Approx(table.number(printed, "u")).margin(2e-4));
    CHECK(y.intervals.shortest.low == Approx(table.number(printed, "low95")).margin(2e-3));
    CHECK(y.intervals.shortest.high == Approx(table.number(printed, "high95")).margin(2e-3));

    // Table 6: first order is not validated, second order is, to one digit (delta = 0.005 mg).
    for (const auto& [method, valid] :
         {std::pair{"GUF1_recomputed", false}, std::pair{"GUF2_recomputed", true}}) {
        const std::size_t row = row_of(table, "9.3_mass_mg", method);
        const double half = (table.number(row, "high95") - table.number(row, "low95")) / 2;
        const GumValidation verdict =
            validate_gum(table.number(row, "y"), half, table.number(exact, "u"), y.intervals.shortest, 1);
        CAPTURE(method);
        CHECK(verdict.tolerance == Approx(0.005));
        CHECK(verdict.valid == valid);
    }
}

TEST_CASE("numerical tolerance, JCGM 101:2008 7.9.2") {
    // Its examples: u = 0.00035 g with two digits gives 0.000005 g; with one, 0.00005 g. 2 K gives 0.5 K.
    CHECK(numerical_tolerance(0.00035, 2) == Approx(0.000005));
    CHECK(numerical_tolerance(0.00035, 1) == Approx(0.00005));
    CHECK(numerical_tolerance(2, 1) == Approx(0.5));
    CHECK(numerical_tolerance(9.96, 2) == Approx(0.5));  // is 10 to two figures
    CHECK(numerical_tolerance(9.94, 2) == Approx(0.05));
    CHECK(numerical_tolerance(0, 2) == 0);
}

// JCGM 101:2008 9.4 squares two correlated normal quantities. With u = 0.005 and true values x1 and 0,
// exactly: mean x1^2 + 2 u^2, variance 4 x1^2 u^2 + 4 u^4 (1 + r^2); the table prints 50 and 67 (1e-6) for x1
// = 0, r = 0.9.
TEST_CASE("JCGM 101:2008 9.4, correlated inputs and a skew result") {
    constexpr double u = 0.005;
    const BlockModel model = [](std::size_t count, const double* const* x, double* const* y) {
        for (std::size_t t = 0; t < count; ++t) y[0][t] = x[0][t] * x[0][t] + x[1][t] * x[1][t];
    };
    for (const double x1 : {0.0, 0.010, 0.050}) {
        for (const double r : {0.0, 0.9, -0.9, 1.0}) {
            CAPTURE(x1, r);
            MonteCarloInputs inputs{{normal_input(x1, u), normal_input(0, u)}, SquareMatrix(2)};
            inputs.correlation.values = {1, r, r, 1};
            const auto result = run_monte_carlo(inputs, 1, model, fixed_trials(500'000, 94));
            REQUIRE(result);
            const double sd = std::sqrt(4 * x1 * x1 * u * u + 4 * std::pow(u, 4) * (1 + r * r));
            CHECK(result->outputs[0].mean == Approx(x1 * x1 + 2 * u * u).margin(4 * sd / std::sqrt(5e5)));
            CHECK(result->outputs[0].u == Approx(sd).epsilon(0.01));
            if (x1 == 0 && r == 0) {
                // Exponential: the shortest interval begins at zero and ends at -2 u^2 ln 0.05 = 149.8e-6.
                CHECK(result->outputs[0].intervals.shortest.low == Approx(0).margin(1e-7));
                CHECK(result->outputs[0].intervals.shortest.high ==
                      Approx(-2 * u * u * std::log(0.05)).epsilon(0.01));
                CHECK(result->outputs[0].intervals.symmetric.low ==
                      Approx(-2 * u * u * std::log(0.975)).epsilon(0.03));
            }
        }
    }
}

// By the lower factor of their correlation each takes from those before it: the first is drawn as if alone.
TEST_CASE("what is correlated with an input leaves it as it was drawn") {
    const BlockModel first = [](std::size_t count, const double* const* x, double* const* y) {
        for (std::size_t t = 0; t < count; ++t) y[0][t] = x[0][t];
    };
    MonteCarloInputs inputs{{normal_input(3, 0.1), normal_input(5, 0.2)}, {}};
    const auto alone = run_monte_carlo(inputs, 1, first, fixed_trials(10'000, 7));
    inputs.correlation = SquareMatrix(2);
    inputs.correlation.values = {1, 0.6, 0.6, 1};
    const auto correlated = run_monte_carlo(inputs, 1, first, fixed_trials(10'000, 7));
    REQUIRE(alone);
    REQUIRE(correlated);
    CHECK(std::abs(alone->outputs[0].mean - 3) > 1e-6);
    CHECK(correlated->outputs[0].mean == Approx(alone->outputs[0].mean).epsilon(1e-12));
    CHECK(correlated->outputs[0].intervals.symmetric.low ==
          Approx(alone->outputs[0].intervals.symmetric.low).epsilon(1e-12));
}

TEST_CASE("results are the same to the last bit for any number of threads") {
    MonteCarloOptions options;
    options.seed = 77;
    options.significant_digits = 2;
    options.max_trials = 400'000;
    const auto one = run_monte_carlo(mass_inputs(), 1, mass_deviation, options);
    REQUIRE(one);
    for (const int threads : {2, 3, 7, 0}) {
        options.threads = threads;
        const auto many = run_monte_carlo(mass_inputs(), 1, mass_deviation, options);
        REQUIRE(many);
        CAPTURE(threads);
        CHECK(many->trials == one->trials);
        CHECK(many->outputs[0].mean == one->outputs[0].mean);
        CHECK(many->outputs[0].u == one->outputs[0].u);
        CHECK(many->outputs[0].intervals.shortest.low == one->outputs[0].intervals.shortest.low);
        CHECK(many->outputs[0].intervals.symmetric.high == one->outputs[0].intervals.symmetric.high);
        CHECK(many->outputs[0].s_low == one->outputs[0].s_low);
    }
    options.seed = 78;
    const auto other = run_monte_carlo(mass_inputs(), 1, mass_deviation, options);
    REQUIRE(other);
    CHECK(other->outputs[0].mean != one->outputs[0].mean);
}

TEST_CASE("adaptive trials stop when the figures are stable, and not before") {
    MonteCarloInputs inputs{{normal_input(0, 1), normal_input(0, 1), normal_input(0, 1), normal_input(0, 1)},
                            {}};
    MonteCarloOptions options;
    options.seed = 79;
    std::size_t trials[3] = {};
    for (const int digits : {1, 2}) {
        options.significant_digits = digits;
        const auto result = run_monte_carlo(inputs, 1, sum_of_four, options);
        REQUIRE(result);
        const MonteCarloOutput& y = result->outputs[0];
        CHECK(result->stable);
        CHECK(y.tolerance == Approx(digits == 1 ? 0.5 : 0.05));
        for (const double s : {y.s_mean, y.s_u, y.s_low, y.s_high}) CHECK(2 * s <= y.tolerance);
        CHECK(y.intervals.symmetric.high == Approx(3.92).margin(y.tolerance));
        trials[digits] = result->trials;
    }
    CHECK(trials[1] == 20'000);  // the least: two sequences
    CHECK(trials[2] > 20'000);
    CHECK(trials[2] % 10'000 == 0);

    options.significant_digits = 4;
    options.max_trials = 50'000;
    const auto short_of = run_monte_carlo(inputs, 1, sum_of_four, options);
    REQUIRE(short_of);
    CHECK_FALSE(short_of->stable);
    CHECK(short_of->trials == 50'000);

    options.stop_on = IntervalKind::shortest;
    options.significant_digits = 2;
    options.max_trials = 2'000'000;
    const auto shortest = run_monte_carlo(inputs, 1, sum_of_four, options);
    REQUIRE(shortest);
    CHECK(shortest->stable);
    CHECK(shortest->trials > trials[2]);
}

// A rare branch that only one sequence in several sees makes the tails of sequences very unequal.
TEST_CASE("the interval of all trials is exact even when the sequences differ") {
    const BlockModel model = [](std::size_t count, const double* const* x, double* const* y) {
        static_cast<void>(x);
        for (std::size_t t = 0; t < count; ++t)
            y[0][t] = x[0][t] + (x[1][0] > 0.9 ? 10 : 0);  // whole blocks shift
    };
    MonteCarloInputs inputs{{normal_input(0, 1), rectangular_input(0, 1)}, {}};
    MonteCarloOptions options = fixed_trials(200'000, 80);
    const auto result = run_monte_carlo(inputs, 1, model, options);
    REQUIRE(result);
    // About 5 % of the blocks, so the upper end of the interval lies among their values.
    CHECK(result->outputs[0].intervals.symmetric.high > 8);
    options.threads = 2;
    const auto again = run_monte_carlo(inputs, 1, model, options);
    REQUIRE(again);
    CHECK(again->outputs[0].intervals.shortest.high == result->outputs[0].intervals.shortest.high);
}

TEST_CASE("a constant model is stable at once") {
    MonteCarloInputs inputs{{normal_input(4, 0)}, {}};
    const BlockModel model = [](std::size_t count, const double* const* x, double* const* y) {
        for (std::size_t t = 0; t < count; ++t) y[0][t] = 2 * x[0][t];
    };
    const auto result = run_monte_carlo(inputs, 1, model, {});
    REQUIRE(result);
    CHECK(result->stable);
    CHECK(result->outputs[0].mean == 8);
    CHECK(result->outputs[0].u == 0);
    CHECK(result->outputs[0].intervals.shortest.low == 8);
    // JCGM 101:2008 7.9.4 b: a sequence has 100 / (1 - p) trials or 10 000, whichever is more; the least is
    // two.
    CHECK(result->trials == 20'000);
    MonteCarloOptions options;
    options.coverage = 0.999;
    const auto wide = run_monte_carlo(inputs, 1, model, options);
    REQUIRE(wide);
    CHECK(wide->trials == 200'000);
}

TEST_CASE("what cannot be drawn or computed is refused") {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    const auto refused = [](const MonteCarloInputs& inputs, const MonteCarloOptions& options, FaultCode code,
                            const std::string& where) {
        const auto result = run_monte_carlo(
            inputs, 1,
            [](std::size_t count, const double* const* x, double* const* y) {
                for (std::size_t t = 0; t < count; ++t) y[0][t] = std::sqrt(x[0][t]);
            },
            options);
        REQUIRE_FALSE(result);
        CAPTURE(result.fault().what);
        CHECK(result.fault().code == code);
        CHECK(result.fault().where == where);
    };
    const MonteCarloInputs good{{normal_input(100, 1), rectangular_input(0, 1)}, {}};
    refused({}, {}, FaultCode::bad_value, "Monte Carlo");
    refused({{normal_input(nan, 1)}, {}}, {}, FaultCode::not_finite, "input 1");
    refused({{normal_input(1, 1), normal_input(0, -1)}, {}}, {}, FaultCode::bad_value, "input 2");
    refused({{student_input(0, 1, 0)}, {}}, {}, FaultCode::bad_value, "input 1");
    refused({{normal_input(0, 1)}, {}}, {}, FaultCode::not_finite, "output 1");  // roots of negative numbers
    MonteCarloInputs correlated = good;
    correlated.correlation = SquareMatrix(2);
    correlated.correlation.values = {1, 0.5, 0.5, 1};
    refused(correlated, {}, FaultCode::bad_value, "input 2");
    correlated.correlation.values = {1, 1.5, 1.5, 1};
    refused(correlated, {}, FaultCode::bad_covariance, "input 2");
    correlated.correlation.values = {0.5, 0, 0, 1};
    refused(correlated, {}, FaultCode::bad_covariance, "input 1");
    MonteCarloOptions options;
    options.coverage = 1;
    refused(good, options, FaultCode::bad_value, "Monte Carlo options");
    options = {};
    options.max_trials = 10;
    refused(good, options, FaultCode::bad_value, "Monte Carlo options");
    // A sequence of 100 trials is the least.
    options = {};
    options.sequence_trials = 99;
    refused(good, options, FaultCode::bad_value, "Monte Carlo options");
    options.sequence_trials = 100;
    const BlockModel sum = [](std::size_t count, const double* const* x, double* const* y) {
        for (std::size_t t = 0; t < count; ++t) y[0][t] = x[0][t] + x[1][t];
    };
    CHECK(run_monte_carlo(good, 1, sum, options));
    options = {};
    options.significant_digits = 0;
    refused(good, options, FaultCode::bad_value, "Monte Carlo options");
}
