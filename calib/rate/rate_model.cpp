#include "calib/rate/rate_model.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "calib/base/rounding.hpp"
#include "calib/rate/rate_candidate.hpp"
#include "calib/statistics/median.hpp"

namespace tipwright::calib {

namespace {

// One true form in twenty does not pass its test at 95 %, and with it goes the formula: so where none passes,
// the simplest that is not clearly rejected stands, with u widened to what the points scatter about it (Birge
// ratio). Only beyond that do the points themselves stand.
constexpr double clearly_rejected = 0.001;

// covariance and every u alike; keeps them in agreement.
void widen(RateCandidate& candidate, double factor) {
    for (Uncertain& parameter : candidate.parameters) parameter.u *= factor;
    for (auto& row : candidate.covariance)
        for (double& value : row) value *= factor * factor;
    candidate.expression = expression_of(candidate);
}

// The simpler form was rejected at 95 %, as one true form in twenty is: its parameters lie that far from
// those chosen, and those it does not have are 0 in it.
void add_doubt_of_simpler(std::vector<TestedForm>& tested, RateForm chosen) {
    if (chosen != RateForm::line && chosen != RateForm::curve) return;
    const RateForm wanted = chosen == RateForm::line ? RateForm::constant : RateForm::line;
    const TestedForm* simpler = nullptr;
    for (TestedForm& one : tested) {
        RateCandidate& candidate = one.candidate;
        if (candidate.form == wanted) simpler = &one;
        if (candidate.form != chosen || simpler == nullptr || simpler->candidate.dof < 0.5 ||
            simpler->probability < clearly_rejected)
            continue;
        const auto& there = simpler->candidate.parameters;
        std::vector<double> apart;
        for (std::size_t k = 0; k < candidate.parameters.size(); ++k)
            apart.push_back(candidate.parameters[k].value - (k < there.size() ? there[k].value : 0));
        for (std::size_t k = 0; k < apart.size(); ++k) {
            candidate.parameters[k].u = std::hypot(candidate.parameters[k].u, apart[k]);
            for (std::size_t l = 0; l < apart.size(); ++l) candidate.covariance[k][l] += apart[k] * apart[l];
        }
        candidate.expression = expression_of(candidate);
    }
}

// No gauge's volume per tip changes so much with the rate (a dead compartment doubles it, and is named by the
// tips): a wrong mass, count or unit. Common practice, no source.
constexpr double wild_factor = 2.5;

std::optional<Fault> wild_point(const std::vector<StepPoint>& points) {
    if (points.size() < 3) return std::nullopt;
    std::vector<double> volumes;
    volumes.reserve(points.size());
    for (const auto& point : points) volumes.push_back(point.volume_mL);
    const double ordinary_mL = median(std::move(volumes));
    for (const auto& point : points) {
        const double ratio = point.volume_mL / ordinary_mL;
        if (ratio <= wild_factor && ratio >= 1 / wild_factor) continue;
        return Fault{FaultCode::inconsistent,
                     "its volume per tip, " + fixed(point.volume_mL, 3) + " mL, is " + fixed(ratio, 2) +
                         " times that of the other steps",
                     "step " + std::to_string(point.step->observation.step),
                     "check mass, tips and unit of this step, or leave it out"};
    }
    return std::nullopt;
}

double widening(const RateCandidate& candidate) {
    return std::max(1.0, std::sqrt(candidate.chi2 / candidate.dof));
}

// Two rates do not say that the volume is the same at every other one: no constant from them, and nothing
// with a bend.
RateForm simplest(const std::vector<TestedForm>& tested, int rates) {
    const auto possible = [&](RateForm form) { return rates > 2 || form == RateForm::line; };
    for (const TestedForm& one : tested)
        if (possible(one.candidate.form) && one.candidate.passes) return one.candidate.form;
    for (const TestedForm& one : tested)
        if (possible(one.candidate.form) && one.probability >= clearly_rejected) return one.candidate.form;
    return RateForm::table;
}

std::string reason_for(const RateModel& model) {
    const RateCandidate* chosen = model.chosen_candidate();
    if (chosen == nullptr) {
        return "every candidate is clearly rejected by the points and their uncertainties (F test, 99.9 %); "
               "the "
               "points themselves stand, with monotone interpolation between them, and no uncertainty was "
               "widened to make a candidate pass";
    }
    if (chosen->dof < 0.5) {
        return "as many parameters as points: the " + name_of(chosen->form) + " could not be tested";
    }
    if (model.rates() < 3 && chosen->passes)
        return "two rates say how the volume changes from one to the other, not along which curve: a "
               "straight "
               "line between them, with what a bent one could make of it as part of u";
    if (!chosen->passes)
        return "no candidate agrees with the points at 95 %, and the " + name_of(chosen->form) +
               " is the simplest that is not clearly rejected (F test, 99.9 %): it stands with its "
               "uncertainty "
               "widened by " +
               fixed(widening(*chosen), 2) + ", the root of chi-squared over its degrees of freedom";
    return "simplest candidate that agrees with the points: chi-squared " + fixed(chosen->chi2, 2) +
           " does not exceed " + fixed(chosen->chi2_limit, 2) + " (95 % quantile, " + fixed(chosen->dof, 0) +
           " degrees of freedom, variances as estimated)";
}

}  // namespace

std::string name_of(RateForm form) {
    switch (form) {
        case RateForm::constant:
            return "constant";
        case RateForm::line:
            return "line";
        case RateForm::curve:
            return "curve";
        case RateForm::power:
            return "power";
        case RateForm::table:
            return "table";
    }
    return "table";
}

std::vector<ParameterName> parameter_names(RateForm form) {
    switch (form) {
        case RateForm::constant:
            return {{"V0", "mL"}};
        case RateForm::line:
            return {{"V0", "mL"}, {"τ", "s"}};
        case RateForm::curve:
            return {{"V0", "mL"}, {"τ", "s"}, {"c", "s²/mL"}};
        case RateForm::power:
            return {{"α", "mL"}, {"β", "1"}};
        case RateForm::table:
            break;
    }
    return {};
}

Result<RateModel> fit_rate_model(const std::vector<StepResult>& steps) {
    if (steps.empty()) return Fault{FaultCode::too_few_points, "no steps to fit", "rate model", ""};
    for (const auto& step : steps) {
        if (!step.flow_mL_min) {
            return Fault{FaultCode::too_few_points, step.observation.name() + " has no duration, so no flow",
                         "rate model", "give the duration or the time of each tip"};
        }
    }
    const std::vector<StepPoint> points = ascending_points(steps);
    if (auto wild = wild_point(points)) return *wild;
    RateModel model;
    model.flow_min_mL_s = points.front().flow_mL_s;
    model.flow_max_mL_s = points.back().flow_mL_s;
    for (const auto& point : points) model.points.push_back({point.flow_mL_s, point.step->volume_per_tip_mL});

    std::vector<TestedForm> tested;
    for (const RateForm form : {RateForm::constant, RateForm::line, RateForm::curve, RateForm::power}) {
        if (points.size() < static_cast<std::size_t>(degree_of(form)) + 1) continue;
        auto one = fit_candidate(form, points);
        if (!one) {
            // Only the simplest must be solvable; a richer form that cannot be is simply no candidate.
            if (form == RateForm::constant) return one.fault();
            continue;
        }
        tested.push_back(std::move(*one));
    }
    model.chosen = simplest(tested, model.rates());
    for (TestedForm& one : tested)
        if (one.candidate.form == model.chosen && !one.candidate.passes)
            widen(one.candidate, widening(one.candidate));
    add_doubt_of_simpler(tested, model.chosen);
    for (TestedForm& one : tested) model.candidates.push_back(std::move(one.candidate));
    model.reason = reason_for(model);
    return model;
}

}  // namespace tipwright::calib
