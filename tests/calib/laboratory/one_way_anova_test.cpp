#include "tests/support/one_way_anova.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <map>

#include "calib/laboratory/variance_parts.hpp"
#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {

// NIST StRD, SmLs01 to 09, built from their description: 9 levels; level means 1.4, then 1.3 and 1.5 in turn;
// in each level the mean itself first, then 0.1 below and above it in turn; an offset on all.
std::vector<std::vector<double>> sm_ls(int each, double offset) {
    std::vector<std::vector<double>> out;
    for (int level = 0; level < 9; ++level) {
        const int tenths = level == 0 ? 14 : level % 2 == 1 ? 13 : 15;
        out.emplace_back();
        for (int i = 0; i < each; ++i)
            out.back().push_back(offset + (tenths + (i == 0 ? 0 : i % 2 == 1 ? -1 : 1)) / 10.0);
    }
    return out;
}

std::vector<std::vector<double>> by_level(const PublishedTable& table, const std::string& factor,
                                          const std::string& value) {
    std::map<std::string, std::vector<double>> levels;
    for (std::size_t i = 0; i < table.rows(); ++i)
        levels[table.text(i, factor)].push_back(table.number(i, value));
    std::vector<std::vector<double>> out;
    for (auto& [name, values] : levels) out.push_back(std::move(values));
    return out;
}

}  // namespace

TEST_CASE("analysis of variance: SiRstv of NIST StRD", "[laboratory]") {
    const auto got =
        one_way_anova(by_level(PublishedTable("anova_sirstv.csv"), "instrument", "resistivity_ohm_cm"));
    REQUIRE(got);
    // Certified values.
    constexpr double digits = 1e-9;
    CHECK(got->between_dof == 4);
    CHECK(got->within_dof == 20);
    CHECK(got->between_squares == Approx(5.11462616000000E-02).epsilon(digits));
    CHECK(got->between_mean_square == Approx(1.27865654000000E-02).epsilon(digits));
    CHECK(got->within_squares == Approx(2.16636560000000E-01).epsilon(digits));
    CHECK(got->within_mean_square == Approx(1.08318280000000E-02).epsilon(digits));
    CHECK(got->F == Approx(1.18046237440255E+00).epsilon(digits));
    CHECK(got->repeatability_sd() == Approx(1.04076068334656E-01).epsilon(digits));
    CHECK(got->between_squares / (got->between_squares + got->within_squares) ==
          Approx(1.90999039051129E-01).epsilon(digits));
}

TEST_CASE("analysis of variance: SmLs01 to SmLs09 of NIST StRD", "[laboratory]") {
    struct Certified {
        int each;
        double between, within, F;
    };
    for (const Certified& set : {Certified{21, 1.68, 1.80, 21}, Certified{201, 16.08, 18.0, 201},
                                 Certified{2001, 160.08, 180.0, 2001}}) {
        for (const double offset : {0.0, 1e6, 1e12}) {
            INFO(set.each << " values a level, offset " << offset);
            // The values are doubles: of 1e12 + 0.1 they keep 0.1 to 6e-4 only, of 1e6 + 0.1 to 6e-10. What
            // is lost there no method gets back.
            const double digits = offset == 0 ? 1e-13 : offset == 1e6 ? 1e-8 : 2e-3;
            const auto got = one_way_anova(sm_ls(set.each, offset));
            REQUIRE(got);
            CHECK(got->between_squares == Approx(set.between).epsilon(digits));
            CHECK(got->within_squares == Approx(set.within).epsilon(digits));
            CHECK(got->F == Approx(set.F).epsilon(digits));
            CHECK(got->repeatability_sd() == Approx(0.1).epsilon(digits));
        }
    }
}

TEST_CASE("analysis of variance: what parts nothing, and what is not a number", "[laboratory]") {
    CHECK(one_way_anova({{1, 2}}).fault().code == FaultCode::too_few_points);
    CHECK(one_way_anova({{1}, {2}}).fault().code == FaultCode::too_few_points);
    CHECK(one_way_anova({{1, std::nan("")}, {2}}).fault().code == FaultCode::not_finite);
    const auto alike = one_way_anova({{1, 1}, {2, 2}});
    REQUIRE(alike);
    CHECK(alike->F == std::numeric_limits<double>::infinity());
    CHECK(alike->p == 0);
}

TEST_CASE("variance parts: dyestuff of Davies & Goldsmith, as REML gives it", "[laboratory]") {
    const PublishedTable table("reml_dyestuff.csv");
    std::vector<double> values;
    VarianceFactor batch{"batch", {}};
    for (std::size_t i = 0; i < table.rows(); ++i) {
        values.push_back(table.number(i, "yield_g"));
        batch.level.push_back(table.text(i, "batch")[0]);
    }
    const auto got = part_variances(values, {batch});
    REQUIRE(got);
    REQUIRE(got->parts.size() == 2);
    CHECK(got->mean == Approx(1527.5));
    CHECK(got->parts[0].variance == Approx(1764.05).epsilon(1e-9));
    CHECK(got->parts[1].variance == Approx(2451.25).epsilon(1e-9));
    CHECK(got->total_sd == Approx(std::sqrt(1764.05 + 2451.25)));
    CHECK(got->parts[0].low_sd < got->parts[0].sd);
    CHECK(got->parts[0].high_sd > got->parts[0].sd);
}

TEST_CASE("variance parts: their limits do not depend on the unit of the values", "[laboratory]") {
    const PublishedTable table("reml_dyestuff.csv");
    const auto parted = [&](double unit) {
        std::vector<double> values;
        VarianceFactor batch{"batch", {}};
        for (std::size_t i = 0; i < table.rows(); ++i) {
            values.push_back(unit * table.number(i, "yield_g"));
            batch.level.push_back(table.text(i, "batch")[0]);
        }
        return *part_variances(values, {batch});
    };
    const VarianceParts grams = parted(1), tonnes = parted(1e-6);
    for (std::size_t k = 0; k < grams.parts.size(); ++k) {
        CHECK(1e6 * tonnes.parts[k].sd == Approx(grams.parts[k].sd));
        CHECK(1e6 * tonnes.parts[k].low_sd == Approx(grams.parts[k].low_sd));
        CHECK(1e6 * tonnes.parts[k].high_sd == Approx(grams.parts[k].high_sd));
    }
}

TEST_CASE("variance parts: nested and crossed factors, unequal numbers, what cannot be parted",
          "[laboratory]") {
    // Balanced, days within two benches: by hand. Values: bench 0 / 10, days -1 / +1, repeats -0.5 / +0.5.
    std::vector<double> values;
    VarianceFactor bench{"bench", {}}, day{"day", {}}, same{"room", {}}, each{"each", {}};
    for (int b = 0; b < 2; ++b)
        for (int d = 0; d < 2; ++d)
            for (int r = 0; r < 2; ++r) {
                values.push_back(100 + 10 * b + (d == 0 ? -1 : 1) + (r == 0 ? -0.5 : 0.5));
                bench.level.push_back(b);
                day.level.push_back(10 * b + d);
                same.level.push_back(b + 7);
                each.level.push_back(static_cast<int>(values.size()));
            }
    const auto got = part_variances(values, {bench, same, day, each});
    REQUIRE(got);
    REQUIRE(got->parts.size() == 3);
    CHECK(got->left_out == std::vector<std::string>{"room", "each"});
    // MS repeat = 8 * 0.25 / 4, MS day = 2 * 4 * 1 / 2, MS bench = 4 * 2 * 25 / 1.
    CHECK(got->parts[2].mean_square == Approx(0.5));
    CHECK(got->parts[1].mean_square == Approx(4));
    CHECK(got->parts[0].mean_square == Approx(200));
    CHECK(got->parts[1].variance == Approx((4 - 0.5) / 2));
    CHECK(got->parts[0].variance == Approx((200 - 4) / 4.0));
    // Unequal: with one value less the one-way analysis by hand's formula is met.
    std::vector<double> fewer(values.begin(), values.end() - 1);
    bench.level.pop_back();
    const auto unequal = part_variances(fewer, {bench});
    const auto one_way =
        one_way_anova({{fewer.begin(), fewer.begin() + 4}, {fewer.begin() + 4, fewer.end()}});
    REQUIRE(unequal);
    REQUIRE(one_way);
    CHECK(unequal->parts[0].variance == Approx(one_way->between_variance()).epsilon(1e-10));
    CHECK(unequal->parts[1].sd == Approx(one_way->repeatability_sd()).epsilon(1e-10));
    CHECK(part_variances({1}, {}).fault().code == FaultCode::too_few_points);
    CHECK(part_variances({1, std::nan("")}, {}).fault().code == FaultCode::not_finite);
    CHECK(part_variances({1, 2}, {{"a", {1}}}).fault().code == FaultCode::bad_value);
}
