// What a fitted rate model says at a flow, and how far it can be believed there.
#include <catch2/catch.hpp>
#include <cmath>

#include "calib/rate/rate_model.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

RateModel table_of(const std::vector<RatePoint>& points) {
    RateModel model;
    model.chosen = RateForm::table;
    model.points = points;
    model.flow_min_mL_s = points.front().flow_mL_s;
    model.flow_max_mL_s = points.back().flow_mL_s;
    return model;
}

}  // namespace

TEST_CASE("a straight line is believed as far as the bent one, as likely as it, agrees with it") {
    RateModel model;
    model.chosen = RateForm::line;
    model.flow_min_mL_s = 0.5;
    model.flow_max_mL_s = 2;
    for (const double flow : {0.5, 1.0, 1.5, 2.0}) model.points.push_back({flow, {6, 0.01, infinite_dof}});
    RateCandidate line;
    line.form = RateForm::line;
    line.parameters = {{6.0, 0.02, 50}, {0.5, 0, 50}};
    line.covariance = {{4e-4, 0}, {0, 0}};
    RateCandidate curve = line;
    curve.form = RateForm::curve;
    curve.parameters = {{6.0, 0.03, 50}, {0.5, 0, 50}, {0.04, 0, 50}};
    curve.covariance = {{9e-4, 0, 0}, {0, 0, 0}, {0, 0, 0}};
    line.chi2 = 3;
    curve.dof = 1;
    for (const double gain : {0.0, 2.0}) {
        curve.chi2 = line.chi2 - gain;
        model.candidates = {line, curve};
        // Hoeting et al. 1999 (from memory): a variance within the forms and one between them, weighed by
        // likelihood.
        const double share = std::exp(gain / 2) / (1 + std::exp(gain / 2));
        const double apart = 0.04 * 1.5 * 1.5;
        const Uncertain at = model.volume_at(1.5);
        CHECK(at.value == Approx(6.75));
        CHECK(at.u == Approx(std::sqrt((1 - share) * 4e-4 + share * (9e-4 + apart * apart))));
    }
    // One that fits exactly, with as many parameters as points, says nothing of another form.
    curve.dof = 0;
    model.candidates = {line, curve};
    CHECK(model.volume_at(1.5).u == Approx(0.02));
}

TEST_CASE("a table is least sure half-way between two rates, and at a rate no less than there") {
    // Volumes that follow no form.
    const RateModel model = table_of({{0.5, {6.0, 0.01, 50}},
                                      {1.0, {6.4, 0.01, 50}},
                                      {1.5, {6.2, 0.01, 50}},
                                      {2.0, {6.6, 0.01, 50}},
                                      {2.5, {6.3, 0.01, 50}}});
    const auto u = [&](double share) { return model.volume_at(1.0 + 0.5 * share).u; };
    CHECK(u(0) == Approx(0.01));
    CHECK(u(1e-6) == Approx(0.01).epsilon(0.001));
    CHECK(u(1 - 1e-6) == Approx(0.01).epsilon(0.001));
    CHECK(u(0.5) > 5 * u(0));
    CHECK(u(0.9) == Approx(u(0.1)).epsilon(0.05));
    CHECK(u(0.9) < u(0.5) / 2);
}
