// The mixed model against published fits and against the analysis of variance, which balanced data must meet.
#include "calib/trial/mixed_model.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <map>

#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib::trial;
using tipwright::calib::Design;

namespace {

Design ones(std::size_t rows) {
    return {rows, 1, std::vector<double>(rows, 1.0)};
}

// One column of groups, one of values.
MixedData one_way(const test::PublishedTable& table, const std::string& group, const std::string& value) {
    MixedData out;
    std::map<std::string, int> groups;
    for (std::size_t i = 0; i < table.rows(); ++i) {
        out.specimen.push_back(
            groups.try_emplace(table.text(i, group), static_cast<int>(groups.size())).first->second);
        out.y.push_back(table.number(i, value));
    }
    out.fixed = out.random = ones(out.y.size());
    return out;
}

// NIST StRD SmLs, by the description of the sets: level means 1.4, then 1.3 and 1.5 in turn; in each the
// first value is the mean, then mean - 0.1 and mean + 0.1 in turn.
MixedData simon_lesage(int each, double offset) {
    MixedData out;
    for (int level = 0; level < 9; ++level) {
        const double mean = level == 0 ? 1.4 : level % 2 == 1 ? 1.3 : 1.5;
        for (int i = 0; i < each; ++i) {
            out.specimen.push_back(level);
            out.y.push_back(offset + (i == 0 ? mean : i % 2 == 1 ? mean - 0.1 : mean + 0.1));
        }
    }
    out.fixed = out.random = ones(out.y.size());
    return out;
}

MixedData sleep_data() {
    const test::PublishedTable table("reml_sleep.csv");
    MixedData out = one_way(table, "subject", "reaction_ms");
    out.fixed = {table.rows(), 2, {}};
    for (std::size_t i = 0; i < table.rows(); ++i) {
        out.fixed.values.push_back(1);
        out.fixed.values.push_back(table.number(i, "day"));
    }
    out.random = out.fixed;
    return out;
}

}  // namespace

// Davies & Goldsmith 1972; values agreed by several programs (head of the fixture).
TEST_CASE("REML of the dyestuff yields meets the published values", "[trial][mixed]") {
    const MixedData data = one_way(test::PublishedTable("reml_dyestuff.csv"), "batch", "yield_g");
    const auto model = fit_mixed_model(data);
    REQUIRE(model);
    CHECK(model->level_variance() == Approx(1764.05).epsilon(2e-6));
    CHECK(model->residual_variance() == Approx(2451.25).epsilon(2e-6));
    CHECK(model->parameters[0] == Approx(1527.5).epsilon(1e-12));
    CHECK(model->criterion == Approx(319.6543).margin(6e-5));
    const double effects[] = {-17.607, 0.391, 28.562, -23.085, 56.733, -44.995};
    for (std::size_t i = 0; i < 6; ++i)
        CHECK(model->specimen_effects[i][0] == Approx(effects[i]).margin(1e-3));
    const auto full = fit_mixed_model(data, Likelihood::full);
    REQUIRE(full);
    CHECK(full->level_variance() == Approx(1388.3333).epsilon(2e-6));
    // Balanced, one mean: the exact interval is Student's with batches less one.
    const auto mean = evaluate(*model, {{1}, {}, 0, 0});
    CHECK(mean.dof == Approx(5).epsilon(1e-6));
    CHECK(mean.variance == Approx((5 * 1764.05 + 2451.25) / 30).epsilon(1e-5));
}

TEST_CASE("Profile intervals of the dyestuff yields meet the published ones", "[trial][mixed]") {
    // lme4's documentation of the dyestuff fit gives, for the full likelihood, 12.198 to 84.063 and 38.230 to
    // 67.658 (Bates et al. 2015 and the package's vignette; from memory).
    const MixedData data = one_way(test::PublishedTable("reml_dyestuff.csv"), "batch", "yield_g");
    const auto full = fit_mixed_model(data, Likelihood::full);
    REQUIRE(full);
    const auto intervals = profile_intervals(data, *full);
    REQUIRE(intervals);
    CHECK(intervals->level.low == Approx(12.198).epsilon(3e-3));
    CHECK(intervals->level.high == Approx(84.063).epsilon(3e-3));
    CHECK(intervals->residual.low == Approx(38.230).epsilon(3e-3));
    CHECK(intervals->residual.high == Approx(67.658).epsilon(3e-3));
}

// Bates et al. 2015, section 5.2: a line a person, level and slope going together.
TEST_CASE("A random line meets the published fit of the sleep data", "[trial][mixed]") {
    const auto model = fit_mixed_model(sleep_data());
    REQUIRE(model);
    CHECK(model->criterion == Approx(1743.628).margin(1e-3));
    CHECK(std::sqrt(model->level_variance()) == Approx(24.740).margin(2e-3));
    CHECK(std::sqrt(model->tilt_variance()) == Approx(5.922).margin(1e-3));
    CHECK(std::sqrt(model->residual_variance()) == Approx(25.592).margin(1e-3));
    CHECK(model->level_tilt_covariance() / std::sqrt(model->level_variance() * model->tilt_variance()) ==
          Approx(0.066).margin(2e-3));
    CHECK(model->parameters[0] == Approx(251.405).margin(1e-3));
    CHECK(model->parameters[1] == Approx(10.467).margin(1e-3));
    const auto level = evaluate(*model, {{1, 0}, {}, 0, 0});
    const auto slope = evaluate(*model, {{0, 1}, {}, 0, 0});
    CHECK(std::sqrt(level.variance) == Approx(6.825).margin(1e-3));
    CHECK(std::sqrt(slope.variance) == Approx(1.546).margin(1e-3));
    CHECK(level.dof == Approx(17).epsilon(1e-3));
    CHECK(slope.dof == Approx(17).epsilon(1e-3));
    // Balanced and complete: Kenward and Roger's adjustment is nothing (their section 4).
    CHECK(model->covariance(1, 1) == Approx(model->plain_covariance(1, 1)).epsilon(1e-3));
}

// NIST StRD, certified between and within mean squares: variance between = (MSb - MSw)/r.
TEST_CASE("REML of balanced data is the certified analysis of variance", "[trial][mixed]") {
    const auto silicon = fit_mixed_model(
        one_way(test::PublishedTable("anova_sirstv.csv"), "instrument", "resistivity_ohm_cm"));
    REQUIRE(silicon);
    CHECK(silicon->residual_variance() == Approx(1.08318280000000e-02).epsilon(1e-6));
    CHECK(silicon->level_variance() ==
          Approx((1.27865654000000e-02 - 1.08318280000000e-02) / 5).epsilon(1e-4));

    const int repeats[] = {21, 201, 2001};
    const double certified_F[] = {21, 201, 2001};
    // The values themselves are rounded to 1.2e-4 at 1e12: that is what the last sets can still tell.
    const double offsets[] = {0, 1e6, 1e12};
    const double tolerances[] = {1e-5, 1e-5, 2e-3};
    for (int size = 0; size < 3; ++size)
        for (int set = 0; set < 3; ++set) {
            CAPTURE(repeats[size], offsets[set]);
            const auto model = fit_mixed_model(simon_lesage(repeats[size], offsets[set]));
            REQUIRE(model);
            CHECK(std::sqrt(model->residual_variance()) == Approx(0.1).epsilon(tolerances[set]));
            const double F = 1 + repeats[size] * model->level_variance() / model->residual_variance();
            CHECK(F == Approx(certified_F[size]).epsilon(3 * tolerances[set]));
        }
}

// Krueger's 37 gauges: sides within gauges stand where runs do. The balanced nested analysis of variance is
// computed here from the table's means and standard deviations alone.
TEST_CASE("The spread between 37 published gauges is that of their table", "[trial][mixed]") {
    const test::PublishedTable table("krueger2024_summary.csv");
    REQUIRE(table.rows() == 37);
    constexpr int tips = 10;
    MixedData data;
    double total = 0;
    double within = 0;
    double sides = 0;
    std::vector<double> means;
    for (std::size_t i = 0; i < table.rows(); ++i) {
        const double left = table.number(i, "mean_left_g");
        const double right = table.number(i, "mean_right_g");
        means.push_back((left + right) / 2);
        total += means.back();
        sides += tips * (left - right) * (left - right) / 2;
        for (int side = 0; side < 2; ++side) {
            const double mean = side == 0 ? left : right;
            const double sd = table.number(i, side == 0 ? "sd_left_g" : "sd_right_g");
            within += (tips - 1) * sd * sd;
            // Ten values of this mean and standard deviation: more of the tips the model does not use.
            for (int tip = 0; tip < tips; ++tip) {
                data.y.push_back(mean + (tip % 2 == 0 ? 1 : -1) * sd * std::sqrt((tips - 1.0) / tips));
                data.specimen.push_back(static_cast<int>(i));
                data.run.push_back(static_cast<int>(2 * i) + side);
            }
        }
    }
    data.fixed = data.random = ones(data.y.size());
    const double m = static_cast<double>(means.size());
    double between = 0;
    for (double mean : means) between += 2 * tips * (mean - total / m) * (mean - total / m);
    const double ms_between = between / (m - 1);
    const double ms_sides = sides / m;
    const double ms_within = within / (2 * m * (tips - 1));
    REQUIRE(ms_sides > ms_within);

    const auto model = fit_mixed_model(data);
    REQUIRE(model);
    CHECK(model->residual_variance() == Approx(ms_within).epsilon(2e-2));
    if (ms_between > ms_sides) {
        CHECK(model->residual_variance() == Approx(ms_within).epsilon(1e-5));
        CHECK(model->run_variance() == Approx((ms_sides - ms_within) / tips).epsilon(1e-5));
        CHECK(model->level_variance() == Approx((ms_between - ms_sides) / (2 * tips)).epsilon(1e-4));
    } else {
        // The two sides of a gauge differ more than gauges do: nothing is left between gauges.
        CHECK(model->level_variance() == Approx(0).margin(1e-6));
        const double pooled = (sides + between) / (2 * m - 1);
        CHECK(model->run_variance() == Approx((pooled - ms_within) / tips).epsilon(1e-4));
    }
    const auto mean = evaluate(*model, {{1}, {}, 0, 0});
    CHECK(mean.value == Approx(total / m).epsilon(1e-9));
}

// y = b + g + e, n values of a specimen: V = s^2 I + g^2 J, whose inverse and determinant are known
// (Searle, Casella & McCulloch 1992, Variance Components, appendix M, from memory).
TEST_CASE("Specimens of unequal size meet the restricted likelihood written out", "[trial][mixed]") {
    MixedData data;
    const int sizes[] = {2, 5, 3, 8};
    double value = 0.3;
    for (int s = 0; s < 4; ++s)
        for (int i = 0; i < sizes[s]; ++i) {
            value = std::fmod(value * 7.31 + 0.177, 1.0);
            data.y.push_back(20 + (s == 0 ? 3 : 0.5 * s) + value);
            data.specimen.push_back(s);
        }
    data.fixed = data.random = ones(data.y.size());
    const auto written_out = [&](double level, double residual) {
        double log_determinant = 0, weight = 0, weighted = 0, within = 0;
        std::vector<std::pair<double, double>> specimens;  // weight of the mean, mean
        std::size_t at = 0;
        for (const int n : sizes) {
            double mean = 0;
            for (int i = 0; i < n; ++i) mean += data.y[at + static_cast<std::size_t>(i)] / n;
            for (int i = 0; i < n; ++i) within += std::pow(data.y[at++] - mean, 2) / residual;
            log_determinant += (n - 1) * std::log(residual) + std::log(residual + n * level);
            specimens.emplace_back(n / (residual + n * level), mean);
            weight += specimens.back().first;
            weighted += specimens.back().first * mean;
        }
        double between = 0;
        for (const auto& [of_it, mean] : specimens) between += of_it * std::pow(mean - weighted / weight, 2);
        const double degrees = static_cast<double>(data.y.size()) - 1;
        return log_determinant + std::log(weight) + within + between +
               degrees * std::log(2 * 3.14159265358979323846);
    };
    const auto model = fit_mixed_model(data);
    REQUIRE(model);
    const double level = model->level_variance(), residual = model->residual_variance();
    CHECK(model->criterion == Approx(written_out(level, residual)).epsilon(1e-9));
    for (const double factor : {0.98, 1.02}) {
        CHECK(written_out(factor * level, residual) > model->criterion);
        CHECK(written_out(level, factor * residual) > model->criterion);
    }
}

TEST_CASE("Unbalanced data are the same fit in another order", "[trial][mixed]") {
    // Specimens of unequal size with runs.
    MixedData data;
    const int sizes[] = {3, 6, 4, 9};
    double value = 0.3;
    int run = 0;
    for (int s = 0; s < 4; ++s)
        for (int i = 0; i < sizes[s]; ++i) {
            if (i % 3 == 0) ++run;
            value = std::fmod(value * 7.31 + 0.177, 1.0);
            const double x = 0.1 * (i + 1);
            data.y.push_back(1 + 0.4 * s + x * (1 + 0.2 * s) + 0.3 * (run % 3) + 0.1 * value);
            data.specimen.push_back(s);
            data.run.push_back(run);
            data.fixed.values.insert(data.fixed.values.end(), {1, x});
        }
    data.fixed.rows = data.y.size();
    data.fixed.columns = 2;
    data.random = data.fixed;
    const auto model = fit_mixed_model(data);
    REQUIRE(model);
    // A twin with its rows in another order.
    MixedData twin;
    twin.fixed = twin.random = {data.y.size(), 2, {}};
    for (std::size_t i = data.y.size(); i-- > 0;) {
        twin.y.push_back(data.y[i]);
        twin.specimen.push_back(3 - data.specimen[i]);
        twin.run.push_back(data.run[i]);
        twin.fixed.values.insert(twin.fixed.values.end(), {1, data.fixed.values[2 * i + 1]});
    }
    twin.random = twin.fixed;
    const auto again = fit_mixed_model(twin);
    REQUIRE(again);
    CHECK(again->criterion == Approx(model->criterion).epsilon(1e-9));
    CHECK(again->residual_variance() == Approx(model->residual_variance()).epsilon(1e-4));
}

TEST_CASE("What cannot be fitted is refused in one line", "[trial][mixed]") {
    MixedData data{ones(4), ones(4), {1, 2, 3, 4}, {0, 0, 0, 0}, {}};
    CHECK(fit_mixed_model(data).fault().code == FaultCode::too_few_points);
    data.specimen = {0, 0, 1, 1};
    data.y[2] = std::nan("");
    CHECK(fit_mixed_model(data).fault().code == FaultCode::not_finite);
    data.y = {1, 1, 1, 1};
    CHECK(fit_mixed_model(data).fault().code == FaultCode::too_few_points);
    data.y = {1, 2, 3, 5};
    data.run = {0, 1, 0, 2};
    CHECK(fit_mixed_model(data).fault().code == FaultCode::bad_value);
    data.run.clear();
    data.fixed = {4, 2, {1, 2, 1, 2, 1, 2, 1, 2}};
    CHECK(fit_mixed_model(data).fault().code == FaultCode::bad_value);
    data.fixed.rows = 3;
    CHECK(fit_mixed_model(data).fault().code == FaultCode::bad_value);
}
