#include "calib/statistics/contributions.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace tipwright;
using namespace tipwright::calib;

namespace {

Contribution of_meter(double size, double at) {
    Contribution out;
    out.cause = "linearity of a flow meter";
    out.size = size;
    out.at = at;
    return out;
}

}  // namespace

TEST_CASE("one cause at one reading adds up, at readings far apart as the root of the squares") {
    const auto u_of = [](double at_a, double at_b) {
        return combined(0, Contributions{of_meter(0.3, at_a), of_meter(0.4, at_b)}).u;
    };
    CHECK(u_of(60, 60) == Approx(0.7));
    CHECK(u_of(0, 60) == Approx(0.7));  // alike everywhere
    CHECK(u_of(1, 1000) == Approx(0.5));
    // By hand: readings apart by 0.25 in the logarithm are alike to exp(-1/2).
    const double alike = std::exp(-0.5);
    CHECK(u_of(60, 60 * std::exp(0.25)) == Approx(std::sqrt(0.09 + 0.16 + 2 * 0.12 * alike)));
    CHECK(covariance(Contributions{of_meter(0.3, 60)}, Contributions{of_meter(0.4, 60 * std::exp(-0.25))}) ==
          Approx(0.12 * alike));
}

TEST_CASE("what enters with the other sign takes from the whole") {
    CHECK(combined(0, Contributions{of_meter(0.3, 60), of_meter(-0.3, 60)}).u == Approx(0).margin(1e-12));
    Contribution other = of_meter(0.4, 60);
    other.cause = "its zero";
    CHECK(combined(0, Contributions{of_meter(0.3, 60), other}).u == Approx(0.5));
}
