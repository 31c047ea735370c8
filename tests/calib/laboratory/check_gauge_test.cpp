// An alarm of the check gauge: it stands until a person says what was done, and the charts begin anew after
// that.
#include "calib/laboratory/check_gauge.hpp"

#include <catch2/catch.hpp>

#include "tests/support/check_gauge_step.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

// A run a day from the first of January on, at two intensities.
std::vector<CheckRun> runs_of(const std::vector<double>& errors) {
    std::vector<CheckRun> out;
    for (std::size_t i = 0; i < errors.size(); ++i) {
        CheckRun run;
        run.moment = "2031-01-" + std::string(i < 9 ? "0" : "") + std::to_string(i + 1) + "T08:00:00Z";
        run.steps = {test::check_gauge_step(50, errors[i] + 0.01),
                     test::check_gauge_step(200, errors[i] - 0.01)};
        out.push_back(std::move(run));
    }
    return out;
}

// Ten that set the limits; their mean moving range is 0.1111, s 0.0985, the limits some 4.8 s wide.
const std::vector<double> ten{0.0, 0.1, 0.0, -0.1, 0.0, 0.1, 0.2, 0.0, 0.1, 0.0};

CheckAnalysis analysed(std::vector<double> after, std::vector<ControlAction> actions = {}) {
    std::vector<double> errors = ten;
    errors.insert(errors.end(), after.begin(), after.end());
    auto out = analyse_check_gauge(runs_of(errors), {}, std::move(actions));
    REQUIRE(out);
    return *out;
}

}  // namespace

TEST_CASE("check gauge: good runs clear no alarm", "[laboratory]") {
    CHECK_FALSE(analysed({0.1, 0.0}).alarm());
    CHECK(analysed({1.5}).alarm_at == 10u);
    // A bench that has moved gives a good run by chance, and one more.
    const CheckAnalysis good_again = analysed({1.5, 0.0, 0.1, 0.0, 0.0});
    CHECK(good_again.alarm_at == 10u);
    CHECK_FALSE(good_again.answered);
}

TEST_CASE("check gauge: what was done answers the runs up to its day, and a run has to follow",
          "[laboratory]") {
    const ControlAction levelled{"2031-01-11", "balance levelled again"};
    const CheckAnalysis unproven = analysed({1.5}, {levelled});
    CHECK(unproven.alarm_at == 10u);
    CHECK(unproven.answered);
    CHECK_FALSE(analysed({1.5, 0.0}, {levelled}).alarm());
    // A good run before it was done does not show that it helped.
    const CheckAnalysis later = analysed({1.5, 0.0}, {{"2031-01-13", "balance levelled again"}});
    CHECK(later.alarm_at == 10u);
    CHECK(later.answered);
    CHECK_FALSE(analysed({1.5, 0.0, 0.0, 0.1}, {{"2031-01-13", "balance levelled again"}}).alarm());
    // Said before it happened, it answers nothing.
    CHECK(analysed({1.5, 0.0}, {{"2031-01-10", "balance levelled again"}}).alarm_at == 10u);
    // A second alarm wants its own answer.
    const CheckAnalysis twice = analysed({1.5, 0.0, -1.5, 0.0}, {levelled});
    CHECK(twice.alarm_at == 12u);
    CHECK_FALSE(twice.answered);
    CHECK_FALSE(analysed({1.5, 0.0, -1.5, 0.0}, {{"2031-01-13", "tube changed"}, levelled}).alarm());
}

TEST_CASE("check gauge: charts begin anew after what was done", "[laboratory]") {
    // Runs that drift for days: the weighted mean remembers them when the bench is right again.
    const std::vector<double> drifting{0.3, 0.4, 0.5, 0.6};
    std::vector<double> errors = drifting;
    errors.push_back(0.05);
    const CheckAnalysis remembered = analysed(errors);
    CHECK(remembered.charts[0].chart.alarm());
    const CheckAnalysis anew = analysed(errors, {{"2031-01-14", "water degassed"}});
    CHECK_FALSE(anew.alarm());
    // z = 0.2 x + 0.8 centre.
    const ControlChart& chart = anew.charts[0].chart;
    CHECK(chart.weighted.back() == Approx(0.2 * 0.05 + 0.8 * chart.centre));
    CHECK(chart.weighted_limit.back() == Approx(chart.weighted_limit.front()));
}

TEST_CASE("check gauge: of the runs that set the limits only those beyond a limit stand", "[laboratory]") {
    // Eight of ten on one side of their mean, the last two below: a rule of runs, but no limit is passed.
    const auto tilted =
        analyse_check_gauge(runs_of({0.12, 0.22, 0.12, 0.22, 0.12, 0.22, 0.12, 0.22, -0.1, -0.1, 0.15, 0.1}));
    REQUIRE(tilted);
    CHECK_FALSE(tilted->charts[0].chart.signals.empty());
    CHECK_FALSE(tilted->alarm());
}
