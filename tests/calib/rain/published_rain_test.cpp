// Corrected rain against corrections that others have published.
#include <catch2/catch.hpp>
#include <cmath>

#include "calib/rain/tip_feed.hpp"
#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {

// An hour of steady rain: a tip every interval_s, and what the meter makes of it.
RainAmount hour_of(double interval_s, double v0_mL, double tau_s, double diameter_mm, double nominal_mm) {
    RateModel model;
    model.chosen = RateForm::line;
    model.flow_min_mL_s = 0.1;
    model.flow_max_mL_s = 6;
    RateCandidate fit;
    fit.form = RateForm::line;
    fit.parameters = {{v0_mL, 0.01, infinite_dof}, {tau_s, 0.005, infinite_dof}};
    fit.covariance = {{1e-4, 0}, {0, 2.5e-5}};
    model.candidates = {fit};
    Gauge gauge;
    gauge.catch_diameter_mm = {diameter_mm, 0.1};
    std::vector<RainCalibration> reigns(1);
    reigns[0].left = *DepthCurve::make(model, gauge);
    RainGauge standing;
    standing.nominal_mm = nominal_mm;
    standing.scatter_relative = 0.003;
    std::optional<RainAmount> out;
    RainSettings settings;
    RainMeter meter(standing, std::move(reigns), settings, [&](const RainAmount& amount) {
        // The hour in the middle: whole, and dry at neither end.
        if (amount.period == RainPeriod::hour && amount.from_s == 3600) out = amount;
    });
    FeedSettings feed;
    TipFeed tips(feed, meter);
    for (double t = 600; t < 3 * 3600; t += interval_s) {
        LogEntry entry;
        entry.time_s = t;
        REQUIRE(tips.take(entry));
    }
    REQUIRE(tips.finish());
    REQUIRE(out);
    return *out;
}

}  // namespace

TEST_CASE("published rain: a national network's one-minute correction C = A(1 + 0.60 A)", "[rain]") {
    // ASOS User's Guide 1998 (by a secondary text): inches a minute, 305 mm, 0.254 mm a tip. Its straight
    // line over these rates is V0 18.561 mL, tau 0.329 s.
    const PublishedTable table("tbr_asos1998.csv");
    constexpr double inch = 25.4;
    // The line and the published parabola differ by up to 0.10 %; half a tip at the ends of the hour is none
    // of 60 to 900, for tips go on before and behind it.
    constexpr double line_for_parabola = 1.2e-3;
    for (std::size_t i = 0; i < table.rows(); ++i) {
        const double per_minute = table.number(i, "tips_per_min");
        INFO(per_minute << " tips a minute");
        const auto hour = hour_of(60 / per_minute, 18.561, 0.329, 304.8, 0.254);
        CHECK(hour.uncorrected_mm == Approx(60 * inch * table.number(i, "uncorrected_in_min")).epsilon(1e-6));
        CHECK(hour.corrected_mm ==
              Approx(60 * inch * table.number(i, "corrected_in_min")).epsilon(line_for_parabola));
    }
}

TEST_CASE("published rain: what a bucket lets pass while it moves, by high-speed pictures", "[rain]") {
    // Duchon, Fiebrich & Grimsley 2014 (abstract): 0.450 s to level; 0.98 % at 19.9 mm/h, 8.78 % at 175.2
    // mm/h of a tip's water are missed. The depth of a tip, 0.254 mm, is an inference from their agreement.
    constexpr double tau_s = 0.450, tip_mm = 0.254;
    const double v0_mL = tip_mm / 10 * 3.14159265358979 / 4 * 30.48 * 30.48;
    for (const auto& [rate_mm_h, missed] : {std::pair{19.9, 0.0098}, std::pair{175.2, 0.0878}}) {
        const double interval_s = tip_mm / rate_mm_h * 3600 + tau_s;
        const auto hour = hour_of(interval_s, v0_mL, tau_s, 304.8, tip_mm);
        // The means of four tips each scatter by some per cent of what is missed.
        CHECK(hour.corrected_mm / hour.uncorrected_mm - 1 == Approx(missed).epsilon(0.02));
        CHECK(hour.corrected_mm == Approx(rate_mm_h).epsilon(1e-4));
    }
}
