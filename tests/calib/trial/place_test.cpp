// Kinds with known truth at places with known rain: what can be computed by hand is.
#include "calib/trial/place.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/statistics/distributions.hpp"
#include "calib/trial/poisson.hpp"
#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib::trial;

namespace {

// y = level + slope I, with gauges and points spread as told; the standard library's generator, not the
// program's.
KindData made(const std::string& kind, int specimens, double level, double slope, double between,
              double noise, unsigned seed, int runs = 1) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    KindData out{kind, specimens, {}};
    for (int s = 0; s < specimens; ++s) {
        const double own = between * normal(random);
        for (int r = 0; r < runs; ++r) {
            TrialRun run{s, {}};
            for (double I : {6.0, 20.0, 60.0, 120.0, 250.0}) {
                const double y = level + own + slope * I + noise * normal(random);
                run.points.push_back({I, 100 * (1 / y - 1), 0.1});
            }
            out.runs.push_back(run);
        }
    }
    return out;
}

}  // namespace

TEST_CASE("A kind's curve is the line its gauges were made by", "[trial][kind]") {
    const auto kind = model_kind(made("k", 40, 1.0, 4e-4, 0.004, 0.001, 7));
    REQUIRE(kind);
    REQUIRE(kind->knots_mm_h.size() == 5);
    for (double I : {6.0, 35.0, 90.0, 250.0, 400.0}) {
        const CurveValue at = curve_at(*kind, I);
        const double truth = 100 * (1 / (1 + 4e-4 * I) - 1);
        CHECK(at.mean.value == Approx(truth).margin(3 * at.mean.u));
        CHECK(at.mean.u >= 0.1);  // the bench's part never averages out
        CHECK(at.low < at.mean.value);
        CHECK(at.high > at.mean.value);
    }
    CHECK(curve_at(*kind, 6).between_sd == Approx(0.4).epsilon(0.35));
    // Kept within 3 %: the mean leaves at y = 1/0.97, gauges by 1.645 of 0.4 % earlier.
    const KeptRange kept = kept_range(*kind, 3, 0.95);
    CHECK(kept.at_all);
    CHECK_FALSE(kept.to_the_end);
    CHECK(kept.to_mm_h == Approx((1 / 0.97 - 1 - 1.645 * 0.0042) / 4e-4).epsilon(0.15));
    CHECK(probability_within(*kind, kept.to_mm_h, 3) == Approx(0.95).margin(1e-3));
    CHECK_FALSE(kept_range(*kind, 0.1, 0.95).at_all);
    CHECK(kept_range(*kind, 20, 0.95).to_the_end);
}

TEST_CASE("A kind of one specimen is not judged, nor is one that is nothing but points that cannot be",
          "[trial][kind]") {
    KindData one = made("k", 1, 1, 0, 0.01, 0.001, 1);
    CHECK(model_kind(one).fault().code == FaultCode::too_few_points);
    KindData spoilt = made("k", 3, 1, 0, 0.01, 0.001, 1);
    spoilt.runs[1].points[2].error_percent = std::nan("");
    CHECK(model_kind(spoilt).fault().code == FaultCode::bad_value);
    CHECK(model_kind({"k", 2, {}}).fault().code == FaultCode::too_few_points);
}

TEST_CASE("The year's error is the curve weighed by the rain", "[trial][place]") {
    const auto kind = model_kind(made("k", 12, 1.0, 4e-4, 0.003, 0.0005, 3, 2));
    REQUIRE(kind);
    // Half an hour at 30 mm/h and a quarter at 120: 15 and 30 mm.
    std::vector<RainMinute> minutes;
    for (int i = 0; i < 30; ++i) minutes.push_back({i, 30});
    for (int i = 0; i < 15; ++i) minutes.push_back({1000 + i, 120});
    const auto climate = climate_of_minutes("p", minutes, 525960);
    REQUIRE(climate);
    CHECK(climate->amount_mm == Approx(45));
    CHECK(climate->maxima[0].amount_mm == Approx(2));
    CHECK(climate->maxima[1].amount_mm == Approx(10));
    CHECK(climate->maxima[2].amount_mm == Approx(30));
    const std::vector<PlacedKind> kinds{{&*kind, 0.2, 0}};
    const PlaceResult place = judge_place(kinds, *climate);
    const AmountError& year = place.of(0, Amount::year, Corrected::none);
    const double expected = (15 * curve_at(*kind, 30).mean.value + 30 * curve_at(*kind, 120).mean.value) / 45;
    CHECK(year.mean.value == Approx(expected).epsilon(1e-9));
    CHECK(year.grain_sd == Approx(100 * 0.2 / std::sqrt(6.0) / 45));
    CHECK(place.of(0, Amount::max_5_min, Corrected::none).mean.value ==
          Approx(curve_at(*kind, 120).mean.value).epsilon(1e-9));
    CHECK(place.of(0, Amount::max_1_min, Corrected::by_certificate).rms <
          place.of(0, Amount::max_1_min, Corrected::none).rms);
    CHECK(year.rms_low < year.rms);
    CHECK(year.rms < year.rms_high);
    CHECK(year.best == Approx(1));
}

TEST_CASE("A siphon wins where it pours, a straight tube where it drizzles", "[trial][place]") {
    // Straight: no error at low rates, -9 % at 250. Siphon: -1.5 % everywhere.
    const auto straight = model_kind(made("straight", 8, 1.0, 4e-4, 0.003, 0.001, 11));
    const auto siphon = model_kind(made("siphon", 8, 1.02, 0, 0.003, 0.001, 12));
    REQUIRE(straight);
    REQUIRE(siphon);
    const std::vector<PlacedKind> kinds{{&*straight, 0.2, 0}, {&*siphon, 0.2, 0.48}};
    const auto pours = climate_of_law("pours", RainLaw::lognormal, 40, 0.8, 1);
    const auto drizzles = climate_of_law("drizzles", RainLaw::exponential, 1.5, 0, 8);
    REQUIRE(pours);
    REQUIRE(drizzles);
    const Choice high = choose(kinds, *pours, Amount::year, Corrected::none);
    CHECK(high.kind == 1);
    CHECK(high.supported);
    const Choice low = choose(kinds, *drizzles, Amount::year, Corrected::none);
    CHECK(low.kind == 0);
    CHECK(low.supported);
    for (const Duel& duel : duels(kinds, *pours, Amount::year, Corrected::none))
        CHECK((duel.a == 1 ? duel.kind : 1 - duel.kind) >= 0.95);
    // As probable as is required is enough.
    CHECK(choose(kinds, *drizzles, Amount::year, Corrected::none, low.probability).supported);
    // Corrected by a certificate of each gauge, what gauges of a kind differ by is gone.
    CHECK(judge_place(kinds, *drizzles).of(0, Amount::year, Corrected::by_certificate).rms_high < 0.9);
    // A siphon's -1.5 to -2 % is known to 0.1 % of eight specimens.
    CHECK(judge_place(kinds, *pours).of(1, Amount::year, Corrected::none).rms_high < 2.6);
    // The same twice gives the same to the last bit.
    const auto first = judge_place(kinds, *pours);
    const auto second = judge_place(kinds, *pours);
    CHECK(first.of(1, Amount::year, Corrected::none).rms_high ==
          second.of(1, Amount::year, Corrected::none).rms_high);
}

TEST_CASE("Two alike are not decided, and no number of specimens is promised that would", "[trial][place]") {
    const KindData data = made("a", 4, 1.01, 0, 0.006, 0.001, 21);
    KindData twin = data;
    twin.kind = "b";
    const auto a = model_kind(data);
    const auto b = model_kind(twin);
    REQUIRE(a);
    REQUIRE(b);
    const auto climate = climate_of_law("p", RainLaw::exponential, 5, 0, 5);
    REQUIRE(climate);
    const Choice choice = choose({{&*a, 0.2, 0}, {&*b, 0.2, 0}}, *climate, Amount::year, Corrected::none);
    CHECK_FALSE(choice.supported);
    CHECK(choice.probability == Approx(0.5).margin(0.05));
    CHECK_FALSE(choice.specimens);
    CHECK_FALSE(choice.runs);

    // A little apart: so many more would be expected to decide.
    const auto c = model_kind(made("c", 4, 1.018, 0, 0.006, 0.001, 21));
    REQUIRE(c);
    const Choice near = choose({{&*a, 0.2, 0}, {&*c, 0.2, 0}}, *climate, Amount::year, Corrected::none);
    CHECK(near.kind == 0);
    if (!near.supported) {
        REQUIRE(near.specimens);
        CHECK(*near.specimens > 4);
    }
}

// Recommendation ITU-R PN.837-1, table 1; the row of 0.01 % was checked, the others are from memory.
TEST_CASE("A published climate keeps its exceedances", "[trial][climate]") {
    const test::PublishedTable table("rain_zones_itu837_1.csv");
    for (const std::string zone : {"C", "E", "K", "N", "P"}) {
        CAPTURE(zone);
        std::vector<Exceedance> rows;
        for (std::size_t i = 0; i < table.rows(); ++i)
            rows.push_back({table.number(i, "percent"), table.number(i, zone)});
        const auto climate = climate_of_exceedance(zone, rows);
        REQUIRE(climate);
        for (const Exceedance& row : rows) {
            double minutes = 0;
            for (const RainPart& part : climate->parts)
                if (part.intensity_mm_h > row.intensity_mm_h) minutes += part.minutes;
            // Classes are 3 % wide in time.
            CHECK(100 * minutes / 525960 == Approx(row.percent).epsilon(0.03));
        }
        CHECK(climate->maxima[0].amount_mm * 60 >= rows.back().intensity_mm_h);
        CHECK(climate->maxima[1].amount_mm < 5 * climate->maxima[0].amount_mm);
    }
}

TEST_CASE("Laws of rain meet their means", "[trial][climate]") {
    struct Case {
        RainLaw law;
        double first, second, mean;
    };
    for (const Case& one :
         {Case{RainLaw::exponential, 3, 0, 3}, Case{RainLaw::gamma, 0.7, 4, 2.8},
          Case{RainLaw::lognormal, 2, 0.9, 2 * std::exp(0.405)}, Case{RainLaw::weibull, 1, 3, 3}}) {
        const auto climate = climate_of_law("p", one.law, one.first, one.second, 5);
        REQUIRE(climate);
        CHECK(climate->amount_mm == Approx(0.05 * 8766 * one.mean).epsilon(0.01));
    }
    CHECK_FALSE(climate_of_law("p", RainLaw::gamma, std::nan(""), 1, 5));
    CHECK_FALSE(climate_of_law("p", RainLaw::gamma, 1, 1, 0));
    CHECK_FALSE(climate_of_exceedance("p", {{1, 5}, {0.1, 3}}));
    CHECK_FALSE(climate_of_exceedance("p", {{1, 5}}));
    CHECK_FALSE(climate_of_minutes("p", {{0, 1}, {0, 2}}, 100));
    CHECK_FALSE(climate_of_minutes("p", {}, 100));
}

TEST_CASE("A law of rain without its parameters or its share of the time is refused", "[trial][climate]") {
    const auto refused = [](RainLaw law, double first, double second, double wet_percent) {
        const auto climate = climate_of_law("p", law, first, second, wet_percent);
        return !climate && climate.fault().code == FaultCode::bad_value && climate.fault().where == "p";
    };
    for (const RainLaw law : {RainLaw::lognormal, RainLaw::gamma, RainLaw::weibull}) {
        CHECK_FALSE(refused(law, 1, 1, 5));
        CHECK(refused(law, 0, 1, 5));
        CHECK(refused(law, -1, 1, 5));
        CHECK(refused(law, 1e4, 1, 5));
        CHECK(refused(law, 1, 0, 5));
        CHECK(refused(law, 1, -1, 5));
        CHECK(refused(law, 1, 1e4, 5));
    }
    // An exponential has a mean alone.
    CHECK_FALSE(refused(RainLaw::exponential, 3, 0, 5));
    CHECK(refused(RainLaw::exponential, 0, 0, 5));
    CHECK_FALSE(refused(RainLaw::exponential, 3, 0, 100));
    CHECK(refused(RainLaw::exponential, 3, 0, 100.1));
    CHECK(refused(RainLaw::exponential, 3, 0, -1));
}

TEST_CASE("A climate rains in no more of the time than its widest row", "[trial][climate]") {
    const auto climate = climate_of_exceedance("wet", {{20, 2}, {1, 20}});
    REQUIRE(climate);
    double minutes = 0;
    for (const RainPart& part : climate->parts) minutes += part.minutes;
    CHECK(minutes == Approx(0.2 * 525960));
    CHECK(climate->parts.front().intensity_mm_h == Approx(2).epsilon(0.02));
}

TEST_CASE("Where hardly any rain falls there is a climate still", "[trial][climate]") {
    // Between and beyond its two rows 0.2 mm/h (t / 5.26 min)^-0.585, down to the 0.1 mm/h below which is no
    // rain, at 17.2 min of a year; the one worst minute at the rate exceeded in it. By hand, with c = 0.2
    // * 5.26^0.585 mm/h: (c (17.2^0.415 - 1) / 0.415 + c) / 60 mm.
    const auto climate = climate_of_exceedance("desert", {{0.001, 0.2}, {0.0005, 0.3}});
    REQUIRE(climate);
    CHECK(climate->amount_mm == Approx(0.0567).epsilon(0.02));
}

TEST_CASE("Tips become minutes that hold their water", "[trial][climate]") {
    const auto minutes = minutes_of_tips({100, 130, 250, 90000}, 0.2);
    double mm = 0;
    for (const RainMinute& minute : minutes) mm += minute.intensity_mm_h / 60;
    CHECK(mm == Approx(0.8));
    // Between 100 and 130 s one tip in half a minute: 24 mm/h, 20 s of it in the second minute.
    for (const RainMinute& minute : minutes)
        if (minute.minute == 2) CHECK(minute.intensity_mm_h == Approx(60 * (0.2 * 10 / 30 + 0.2 * 50 / 120)));
}

TEST_CASE("The largest amount of a year is that year's own, and of several years their mean",
          "[trial][climate]") {
    // 2 mm within a minute in the first year, 0.6 mm in the second, a last tip when both are over.
    constexpr double year_s = 525960 * 60.0;
    std::vector<double> tips;
    for (int i = 0; i <= 10; ++i) tips.push_back(90 + 6 * i);
    for (int i = 0; i <= 10; ++i) tips.push_back(90 + 1.5 * year_s + 20 * i);
    tips.push_back(90 + 2.01 * year_s);
    const auto climate = climate_of_tips("p", tips, 0.2);
    REQUIRE(climate);
    CHECK(climate->maxima[0].amount_mm == Approx(1.3));
    CHECK(climate->maxima[0].parts.size() == 2);
}

// Another way: the depth is laid second by second, and every window of whole seconds is added up.
TEST_CASE("The largest amounts are of windows that slide, not of the clock's", "[trial][climate]") {
    // Two minutes of steady rain, 120 mm/h, from 30 s past the minute on: by the clock no minute is full of
    // it.
    std::vector<double> tips;
    for (int i = 0; i <= 10; ++i) tips.push_back(90 + 6 * i);
    const auto burst = climate_of_tips("p", tips, 0.2);
    REQUIRE(burst);
    CHECK(burst->maxima[0].amount_mm == Approx(2));
    REQUIRE(burst->maxima[0].parts.size() == 1);
    CHECK(burst->maxima[0].parts[0].intensity_mm_h == Approx(120));

    std::uint64_t state = 7;
    const auto uniform = [&] {
        state = state * 6364136223846793005u + 1442695040888963407u;
        return (static_cast<double>(state >> 11) + 0.5) / 9007199254740992.0;
    };
    tips.clear();
    double at = 5000;
    for (int i = 0; i < 1500; ++i) {
        at += i % 60 == 0 ? std::ceil(4000 * uniform()) : std::ceil(-20 * std::log(uniform()));
        tips.push_back(at);
    }
    const auto climate = climate_of_tips("p", tips, 0.2);
    REQUIRE(climate);
    std::vector<double> each_second(static_cast<std::size_t>(at) + 1, 0.0);
    for (std::size_t i = 0; i < tips.size(); ++i) {
        const double before = i == 0 ? tips[0] - longest_tip_interval_s
                                     : std::max(tips[i - 1], tips[i] - longest_tip_interval_s);
        for (double t = before; t < tips[i]; t += 1)
            each_second[static_cast<std::size_t>(t)] += 0.2 / (tips[i] - before);
    }
    for (std::size_t m = 0; m < maximum_minutes.size(); ++m) {
        const std::size_t length = 60 * static_cast<std::size_t>(maximum_minutes[m]);
        double largest = 0;
        for (std::size_t from = 0; from + length <= each_second.size(); ++from) {
            double sum = 0;
            for (std::size_t t = from; t < from + length; ++t) sum += each_second[t];
            largest = std::max(largest, sum);
        }
        CAPTURE(maximum_minutes[m]);
        CHECK(climate->maxima[m].amount_mm == Approx(largest).epsilon(1e-9));
        double parts = 0;
        for (const RainPart& part : climate->maxima[m].parts)
            parts += part.intensity_mm_h * part.minutes / 60;
        CHECK(parts == Approx(climate->maxima[m].amount_mm));
    }
    // By the clock it is less.
    const auto minutes = minutes_of_tips(tips, 0.2);
    const auto by_clock =
        climate_of_minutes("p", minutes, minutes.back().minute - minutes.front().minute + 1);
    REQUIRE(by_clock);
    for (std::size_t m = 0; m < maximum_minutes.size(); ++m)
        CHECK(by_clock->maxima[m].amount_mm < climate->maxima[m].amount_mm);
}

// Garwood's limits for 0, 1, 2, 5 and 10 events, as handbooks print them (from memory).
TEST_CASE("Rates of rare events have Garwood's limits", "[trial][poisson]") {
    struct Row {
        int events;
        double low, high;
    };
    for (const Row& row : {Row{0, 0, 3.689}, Row{1, 0.0253, 5.572}, Row{2, 0.242, 7.225},
                           Row{5, 1.623, 11.668}, Row{10, 4.795, 18.390}}) {
        const EventRate rate = event_rate(row.events, 4);
        CHECK(rate.low == Approx(row.low / 4).margin(3e-4));
        CHECK(rate.high == Approx(row.high / 4).margin(3e-4));
        CHECK(rate.per_unit == row.events / 4.0);
    }
}
