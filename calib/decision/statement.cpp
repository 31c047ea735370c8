#include "calib/decision/statement.hpp"

#include <algorithm>
#include <optional>

#include "calib/decision/evaluation.hpp"

namespace tipwright::calib {

namespace {

// After that many dropped collects something is wrong that the good one may have missed.
constexpr std::ptrdiff_t collects_may_drop = 1;

// What a finding says against a step; nothing: a plain remark.
std::optional<Reservation> against(const Finding& finding, const Gauge& gauge) {
    const auto reserved = [&](ReservationId id) { return Reservation{id, finding.step, Claim::reserved}; };
    const auto nothing = [&](ReservationId id) { return Reservation{id, finding.step, Claim::not_stated}; };
    switch (finding.id) {
        case FindingId::phantom_weighed:
        case FindingId::phantom_timed:
        case FindingId::missed_weighed:
        case FindingId::missed_timed:
        case FindingId::contact_extra:
        case FindingId::compartment_uncounted:
            return nothing(ReservationId::tips_doubted);
        case FindingId::balance_disturbed:
        case FindingId::balance_scale:
            return nothing(ReservationId::weight_doubted);
        case FindingId::compartment_shifted:
        case FindingId::volume_shifted:
        case FindingId::changed_later:
            return nothing(ReservationId::gauge_changed);
        case FindingId::contact_missed:
        case FindingId::contact_one_sided:
            // The other contact saw those tips. In a siphon's slugs a closure that stands alone may as well
            // be a false one: calib/tips/contacts.hpp.
            if (gauge.inlet == Inlet::siphon) return nothing(ReservationId::tips_doubted);
            return reserved(ReservationId::contacts_differ);
        case FindingId::contact_counts:
        case FindingId::contact_late:
        case FindingId::contact_unsteady:
            return reserved(ReservationId::contacts_differ);
        case FindingId::contact_bounce:
            return reserved(ReservationId::contact_poor);
        case FindingId::funnel_slows:
            return reserved(ReservationId::funnel_doubted);
        case FindingId::evaporation_drift:
        case FindingId::evaporation_level:
            return reserved(ReservationId::evaporation_doubted);
        case FindingId::water_temperature_outside:
        case FindingId::air_temperature_outside:
        case FindingId::pressure_outside:
        case FindingId::humidity_outside:
            return reserved(ReservationId::environment_outside);
        case FindingId::compartment_a_larger:  // the mean over an even number of tips is what is stated
        case FindingId::compartment_b_larger:
        case FindingId::runs_disagree:         // part of U
        case FindingId::target_missed:         // U is as it is stated
        case FindingId::monte_carlo_narrower:  // its interval is what is stated
        case FindingId::monte_carlo_wider:
        case FindingId::dropped_disturbed:  // counted apart
        case FindingId::dropped_flow:
        case FindingId::dropped:
        case FindingId::beyond_capability:  // said beside the results
            break;
    }
    return std::nullopt;
}

void add(const Reservation& one, std::vector<Reservation>& all) {
    const bool known = std::any_of(all.begin(), all.end(), [&](const Reservation& other) {
        return other.id == one.id && other.step == one.step;
    });
    if (!known) all.push_back(one);
}

void add_from_findings(const Evaluation& evaluation, const Gauge& gauge, const Grounds& grounds,
                       std::vector<Reservation>& all) {
    std::vector<Finding> findings = evaluation.findings;
    findings.insert(findings.end(), grounds.run_findings.begin(), grounds.run_findings.end());
    for (const Finding& finding : findings)
        if (const auto one = against(finding, gauge)) add(*one, all);
    for (const StepResult& step : evaluation.steps) {
        const auto dropped = std::count_if(findings.begin(), findings.end(), [&](const Finding& finding) {
            return finding.kind() == FindingKind::dropped_collect && finding.step == step.observation.step;
        });
        if (dropped > collects_may_drop)
            add({ReservationId::collects_dropped, step.observation.step, Claim::reserved}, all);
    }
}

Claim worse(Claim a, Claim b) {
    return std::max(a, b);
}

}  // namespace

std::string_view name_of(Claim claim) {
    return claim_names.at(static_cast<std::size_t>(claim));
}

std::string_view name_of(ReservationId id) {
    return reservation_names.at(static_cast<std::size_t>(id));
}

const StepStatement* Statement::of_step(int step) const {
    const auto found =
        std::find_if(steps.begin(), steps.end(), [&](const StepStatement& one) { return one.step == step; });
    return found == steps.end() ? nullptr : &*found;
}

std::vector<int> Statement::withheld_steps() const {
    std::vector<int> out;
    for (const StepStatement& one : steps)
        if (one.result == Claim::not_stated) out.push_back(one.step);
    return out;
}

bool Statement::needs_acceptance() const {
    return std::any_of(reservations.begin(), reservations.end(),
                       [](const Reservation& one) { return one.id != ReservationId::limits_unconfirmed; });
}

bool Statement::has(ReservationId id) const {
    return std::any_of(reservations.begin(), reservations.end(),
                       [&](const Reservation& one) { return one.id == id; });
}

bool doubted(const StepResult& step, const Gauge& gauge) {
    const auto& findings = step.observation.findings;
    return std::any_of(findings.begin(), findings.end(), [&](const Finding& finding) {
        const auto one = against(finding, gauge);
        return one && one->claim == Claim::not_stated;
    });
}

Statement statement_of(const Evaluation& evaluation, const Gauge& gauge, const Grounds& grounds) {
    Statement out;
    out.traceability = grounds.traceability;
    if (grounds.supplied)
        out.document = DocumentKind::evaluation_report;
    else if (!grounds.traceability.any_certificate)
        out.document = DocumentKind::test_report;

    std::vector<Reservation>& all = out.reservations;
    add_from_findings(evaluation, gauge, grounds, all);
    if (!grounds.complete) add({ReservationId::incomplete, 0, Claim::reserved}, all);

    // Each step, from what speaks against it or against the run as a whole.
    Claim of_run = Claim::stated;
    for (const Reservation& one : all)
        if (one.step == 0) of_run = worse(of_run, one.claim);
    const Conformity& conformity = evaluation.conformity;
    const bool unconfirmed = !conformity.limits.rows.empty() && !conformity.limits.confirmed;
    bool any = false;
    for (const StepResult& step : evaluation.steps) {
        StepStatement one;
        one.step = step.observation.step;
        one.result = of_run;
        for (const Reservation& reservation : all)
            if (reservation.step == one.step) one.result = worse(one.result, reservation.claim);
        const auto judged = std::find_if(conformity.steps.begin(), conformity.steps.end(),
                                         [&](const StepConformity& row) { return row.step == one.step; });
        const bool has_limit = judged != conformity.steps.end() && judged->verdict != Verdict::no_limit;
        one.verdict =
            has_limit ? worse(one.result, unconfirmed ? Claim::reserved : Claim::stated) : Claim::not_stated;
        const auto& fitted = evaluation.correction_steps;
        one.in_correction = std::find(fitted.begin(), fitted.end(), one.step) != fitted.end();
        out.results = worse(out.results, one.result == Claim::not_stated ? Claim::reserved : one.result);
        any = any || one.result != Claim::not_stated;
        out.steps.push_back(one);
    }
    if (!any) out.results = Claim::not_stated;

    if (!evaluation.correction) {
        out.correction = Claim::not_stated;
    } else {
        out.correction = of_run;
        for (const StepStatement& step : out.steps) {
            if (step.in_correction)
                out.correction = worse(out.correction, step.result);
            else if (out.correction == Claim::stated)
                out.correction = Claim::reserved;
        }
        if (std::any_of(out.steps.begin(), out.steps.end(),
                        [](const StepStatement& step) { return !step.in_correction; }))
            add({ReservationId::steps_left_out, 0, Claim::reserved}, all);
        // One or two steps have no form to test.
        if (evaluation.model && evaluation.model->chosen == RateForm::table) {
            add({ReservationId::no_form, 0, Claim::reserved}, all);
            out.correction = worse(out.correction, Claim::reserved);
        }
    }

    out.verdict = Claim::not_stated;
    if (conformity.overall != Verdict::no_limit && conformity.overall != Verdict::not_stated) {
        out.verdict = of_run;
        for (const StepStatement& step : out.steps) {
            if (step.verdict != Claim::not_stated) out.verdict = worse(out.verdict, step.verdict);
            // A fail stands whatever the steps left out would have shown.
            if (step.result == Claim::not_stated) out.verdict = worse(out.verdict, Claim::reserved);
        }
        if (unconfirmed) add({ReservationId::limits_unconfirmed, 0, Claim::reserved}, all);
    }
    return out;
}

}  // namespace tipwright::calib
