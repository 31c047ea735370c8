#include <catch2/catch.hpp>

#include <cmath>

#include "report/certificate/axis.hpp"

using namespace tipwright::report::certificate;

TEST_CASE("a linear axis covers its values with round steps") {
    for (double low : {-17.3, -0.004, 0.0, 5.99, 1000.0})
        for (double span : {0.001, 0.7, 3.0, 49.0, 12345.0})
            for (int wanted : {4, 7, 10}) {
                const Axis axis = linear_axis(low, low + span, wanted);
                CHECK(axis.low <= low + 1e-9 * span);
                CHECK(axis.high >= low + span - 1e-9 * span);
                CHECK(axis.ticks.size() >= 3);
                CHECK(axis.ticks.size() <= static_cast<std::size_t>(wanted) + 3);
                const double step = axis.ticks[1].value - axis.ticks[0].value;
                const double leading = step / std::pow(10, std::floor(std::log10(step) + 1e-9));
                const bool round = std::abs(leading - 1) < 1e-6 || std::abs(leading - 2) < 1e-6 ||
                                   std::abs(leading - 5) < 1e-6;
                CHECK(round);
                CHECK(axis.position(axis.low) == Approx(0).margin(1e-12));
                CHECK(axis.position(axis.high) == Approx(1));
                for (const Tick& tick : axis.ticks)
                    CHECK(std::stod(tick.label) == Approx(tick.value).margin(1e-9 * std::abs(step)));
            }
}

TEST_CASE("a logarithmic axis labels 1, 2, 5 and has the values inside") {
    const Axis axis = logarithmic_axis(2, 500);
    CHECK(axis.low < 2);
    CHECK(axis.high > 500);
    std::string labels;
    for (const Tick& tick : axis.ticks)
        if (!tick.label.empty()) labels += tick.label + " ";
    CHECK(labels == "2 5 10 20 50 100 200 500 ");
    CHECK(axis.position(std::sqrt(axis.low * axis.high)) == Approx(0.5));
    std::string small;
    for (const Tick& tick : logarithmic_axis(0.02, 1).ticks)
        if (!tick.label.empty()) small += tick.label + " ";
    CHECK(small == "0.02 0.05 0.1 0.2 0.5 1 ");
}

TEST_CASE("the axis of rates suits its span") {
    CHECK(axis_for_rates(2, 500).logarithmic);
    CHECK_FALSE(axis_for_rates(50, 200).logarithmic);
    CHECK_FALSE(axis_for_rates(0, 200).logarithmic);
    CHECK(axis_for_rates(50, 200).low == 0);
    CHECK(axis_for_rates(60, 60).high > 60);
}
