// Published measurements on real gauges, through the reader of supplied tables and the evaluation.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "bench/supplied/supplied.hpp"
#include "calib/decision/evaluation.hpp"
#include "calib/statistics/serial_correlation.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

SuppliedMeasurements fixture(const std::string& name) {
    auto read = load_supplied(tipwright::test::source_dir() + "/fixtures/supplied/" + name);
    INFO((read ? "" : read.fault().line()));
    REQUIRE(read);
    return *read;
}

calib::Evaluation evaluated(const SuppliedMeasurements& read) {
    auto evaluation = calib::evaluate(read.observations, read.gauge.gauge, read.metrology, read.plan);
    INFO((evaluation ? "" : evaluation.fault().line()));
    REQUIRE(evaluation);
    return *evaluation;
}

struct Published {
    const char* gauge;
    double mean_left_g, sd_left_g, mean_right_g, sd_right_g, mean_tip_g, difference_percent, depth_mm;
};

}  // namespace

// Krueger et al. 2024, Geosci. Instrum. Method. Data Syst. 13, 163-176, data set doi 10.5281/zenodo.10838596:
// single tips of eight of the 37 new gauges. Means, n - 1 standard deviations, difference 100 (L - R)/mean of
// both and depth at 165 mm with 1 g/mL, computed from that data set with numpy and rounded to the digits
// here.
TEST_CASE("single weighings of real gauges give their means, scatter and left-right difference") {
    const Published published[] = {
        {"01", 3.408, 0.191, 3.434, 0.099, 3.421, -0.76, 0.1600},
        {"04", 4.056, 0.155, 2.684, 0.097, 3.370, 40.71, 0.1576},
        {"09", 3.494, 0.222, 2.768, 0.206, 3.131, 23.19, 0.1464},
        {"10", 4.627, 0.514, 3.158, 0.338, 3.893, 37.74, 0.1820},
        {"17", 3.162, 0.133, 4.081, 0.202, 3.621, -25.38, 0.1694},
        {"25", 2.934, 0.375, 3.921, 0.498, 3.428, -28.80, 0.1603},
        {"32", 3.198, 0.273, 4.870, 0.249, 4.034, -41.45, 0.1887},
        {"35", 3.599, 0.294, 5.458, 0.454, 4.529, -41.05, 0.2118},
    };
    constexpr double last_digit_g = 0.00051;  // half of it, and the rounding of a value that ends in 5
    int widened = 0;
    for (const Published& row : published) {
        INFO("gauge " << row.gauge);
        const SuppliedMeasurements read = fixture("krueger2024-" + std::string(row.gauge) + ".csv");
        REQUIRE(read.tips.size() == 1);
        const TipSummary& tips = read.tips[0];
        REQUIRE(tips.a);
        REQUIRE(tips.b);
        CHECK(tips.a->tips == 10);
        CHECK(tips.b->tips == 10);
        CHECK(tips.a->mean == Approx(row.mean_left_g).margin(last_digit_g));
        CHECK(tips.a->sd == Approx(row.sd_left_g).margin(last_digit_g));
        CHECK(tips.b->mean == Approx(row.mean_right_g).margin(last_digit_g));
        CHECK(tips.b->sd == Approx(row.sd_right_g).margin(last_digit_g));
        CHECK(tips.mean == Approx(row.mean_tip_g).margin(last_digit_g));
        CHECK(tips.difference_percent.value == Approx(row.difference_percent).margin(0.0051));
        const double area_cm2 = read.gauge.gauge.catch_area_cm2().value;
        CHECK(10 * tips.mean / area_cm2 == Approx(row.depth_mm).margin(0.00006));

        // Uncertainty: s/sqrt(n) of each side, and of their difference by the plain formula for small u.
        CHECK(tips.a->u() == Approx(row.sd_left_g / std::sqrt(10.0)).epsilon(0.01));
        const double pooled =
            std::sqrt((row.sd_left_g * row.sd_left_g + row.sd_right_g * row.sd_right_g) / 2);
        const double u_difference = 100 * pooled * std::sqrt(2.0 / 10) / row.mean_tip_g;
        CHECK(tips.difference_percent.u == Approx(u_difference).epsilon(0.03));
        CHECK(tips.difference_percent.dof == 18);

        // A static check: volume per tip, balance of the compartments and error stand, no correction does.
        const calib::Evaluation evaluation = evaluated(read);
        REQUIRE(evaluation.steps.size() == 1);
        const calib::StepResult& step = evaluation.steps[0];
        CHECK_FALSE(evaluation.model);
        CHECK_FALSE(evaluation.correction);
        CHECK(evaluation.no_correction == calib::NoCorrection::static_check);
        // 1.0029 mL per gram of reading at 20 degC, ISO 8655-6 table of Z factors.
        CHECK(step.volume_per_tip_mL.value == Approx(1.0029 * row.mean_tip_g).epsilon(3e-4));
        CHECK(step.error_percent.value ==
              Approx(100 * (0.2 / (1.0029 * row.depth_mm) - 1)).margin(100 * 0.0006));
        const double u_mean_g = pooled / std::sqrt(20.0);
        CHECK(step.volume_per_tip_mL.u > u_mean_g);
        // Weighings that know of each other widen u: those of three of these gauges seem to.
        const calib::TipScatter& scatter = step.observation.scatter;
        const double widening = calib::widening_by_dependence(scatter.neighbours, scatter.neighbours_of);
        CHECK(step.volume_per_tip_mL.u < 1.25 * widening * u_mean_g);
        widened += widening > 1 ? 1 : 0;
        REQUIRE(step.compartment_a_mL);
        CHECK(step.compartment_a_mL->value == Approx(1.0029 * row.mean_left_g).epsilon(1e-3));
        CHECK(step.compartment_b_mL->value == Approx(1.0029 * row.mean_right_g).epsilon(1e-3));
    }
    CHECK(widened == 3);
}

// F. Peterson, H.J. Andrews Experimental Forest, post of 2015-02-28: left mean, overall mean of all tips and
// population standard deviation of three large buckets.
TEST_CASE("single volumes of large field buckets give their published means and spreads") {
    struct Bucket {
        const char* name;
        int left, right;
        double mean_mL, spread_mL;
    };
    for (const Bucket& bucket : {Bucket{"C", 2, 3, 1478.00, 34.87}, Bucket{"U", 7, 6, 1297.38, 44.44},
                                 Bucket{"H", 4, 4, 1454.38, 55.81}}) {
        INFO("bucket " << bucket.name);
        const SuppliedMeasurements read = fixture("peterson2015-" + std::string(bucket.name) + ".csv");
        const TipSummary& tips = read.tips[0];
        CHECK(tips.in_mL);
        CHECK(tips.a->tips == bucket.left);
        CHECK(tips.b->tips == bucket.right);
        CHECK(tips.all.mean == Approx(bucket.mean_mL).margin(0.0051));
        const double n = tips.all.tips;
        CHECK(tips.all.sd * std::sqrt((n - 1) / n) == Approx(bucket.spread_mL).margin(0.0051));
        const calib::Evaluation evaluation = evaluated(read);
        CHECK(evaluation.steps[0].volume_per_tip_mL.value == Approx((tips.a->mean + tips.b->mean) / 2));
        CHECK_FALSE(evaluation.correction);
    }
    CHECK(fixture("peterson2015-C.csv").tips[0].a->mean == Approx(1445.0));
}

// NOAA/NWS, ASOS User's Guide (1998): C = A (1 + 0.60 A). A line through it has V0 = 18.561 mL and tau =
// 0.329 s (numpy, equal relative weights) and meets it within 0.10 %.
TEST_CASE("a published rate correction is met by the line model over its range") {
    const SuppliedMeasurements read = fixture("asos1998.csv");
    const calib::Evaluation evaluation = evaluated(read);
    REQUIRE(evaluation.model);
    CHECK(evaluation.model->chosen == calib::RateForm::line);
    const calib::RateCandidate* line = evaluation.model->chosen_candidate();
    REQUIRE(line != nullptr);
    CHECK(line->parameters[0].value == Approx(18.561).margin(0.002));
    // The reference line weighs all points alike; here the shared volume of a step's budget weighs a little
    // otherwise.
    CHECK(line->parameters[1].value == Approx(0.329).margin(0.002));
    for (const calib::StepResult& step : evaluation.steps) {
        const double volume_mL = evaluation.model->volume_at(step.flow_mL_min->value / 60).value;
        CHECK(volume_mL == Approx(step.volume_per_tip_mL.value).epsilon(0.00105));
        // Error of the uncorrected amount A against the corrected C.
        const double a = 0.01 * step.observation.step;
        CHECK(step.error_percent.value == Approx(100 * (1 / (1 + 0.60 * a) - 1)).margin(0.002));
    }
}

// Calderon and Tapia 2023: v = 2.35 mL + 0.05 mL/(L/h) I, so tau = 0.180 s; rounding leaves 0.162 to 0.198 s.
TEST_CASE("a published line of a small bucket comes back") {
    const calib::Evaluation evaluation = evaluated(fixture("calderon2023.csv"));
    REQUIRE(evaluation.model);
    CHECK(evaluation.model->chosen == calib::RateForm::line);
    const calib::RateCandidate* line = evaluation.model->chosen_candidate();
    REQUIRE(line != nullptr);
    CHECK(line->parameters[0].value == Approx(2.350).margin(0.0005));
    CHECK(line->parameters[1].value == Approx(0.180).margin(0.0005));
}

// Duchon et al. 2014, J. Atmos. Oceanic Technol. 31, 1330-1336, abstract: film of 8 tips, 0.450 s from the
// start of the movement to level; loss 0.98 % at 19.9 mm/h and 8.78 % at 175.2 mm/h. Tip depth 0.254 mm
// (inferred).
TEST_CASE("the published loss at two rates follows from the movement time") {
    constexpr double movement_s = 0.450;
    constexpr double tip_mm = 0.254;
    constexpr double nominal_mL = 18.5333;  // 0.254 mm on 304.8 mm
    std::string table =
        "# source = computed\n# gauge.model = D\n# gauge.serial = D\n# gauge.nominal_tip_mm = 0.254\n"
        "# gauge.catch_diameter_mm = 304.8\n# gauge.catch_diameter_u_mm = 0.01\n# gauge.compartments = 2\n"
        "# measure.u_mL = 0.1\n# timing.u_s = 0.01\ntips,duration_s,volume_mL\n";
    for (const double rate_mm_h : {19.9, 175.2}) {
        const double interval_s = 3600 * tip_mm / rate_mm_h;
        // Between two tips the bucket takes V0 in T - tau, so V0 T/(T - tau) fell.
        const double fallen_mL = nominal_mL * interval_s / (interval_s - movement_s);
        table += "100," + std::to_string(100 * interval_s) + "," + std::to_string(100 * fallen_mL) + "\n";
    }
    const auto read = parse_supplied({"duchon", table});
    REQUIRE(read);
    const calib::Evaluation evaluation = evaluated(*read);
    CHECK(evaluation.steps[0].error_percent.value == Approx(-0.98).margin(0.005));
    // 8.62 % follows; the published 8.78 % stands on four filmed tips.
    CHECK(evaluation.steps[1].error_percent.value == Approx(-8.62).margin(0.005));
    CHECK(evaluation.steps[1].error_percent.value == Approx(-8.78).margin(0.2));
    REQUIRE(evaluation.model);
    REQUIRE(evaluation.model->chosen_candidate() != nullptr);
    CHECK(evaluation.model->chosen_candidate()->parameters[1].value == Approx(movement_s).margin(0.001));
}
