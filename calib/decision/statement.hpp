// Statement: what may be claimed, for each step and for the whole, from findings, validity, traceability and
// completeness. The one place that decides; terminal, JSON, tables, certificate, DCC, pack and register ask
// it.
//   stated       without more ado
//   reserved     only when a person accepts the reservation, with a reason that stands beside it
//   not_stated   not at all
// A reservation is data (id and step); its sentence comes from the words of a language.
#pragma once

#include <array>
#include <string_view>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/rate/step_result.hpp"
#include "calib/tips/finding.hpp"

namespace tipwright::calib {

struct Evaluation;

enum class Claim { stated, reserved, not_stated };
inline constexpr std::array claim_names{std::string_view("stated"), std::string_view("reserved"),
                                        std::string_view("not_stated")};
std::string_view name_of(Claim claim);

enum class ReservationId {
    tips_doubted,         // of a step: tips that were false, lost or not counted
    weight_doubted,       // of a step: its weight changed without a tip
    gauge_changed,        // of a step: the gauge changed during or after it
    contacts_differ,      // of a step: one of two contacts did not see every tip, or closed out of order
    contact_poor,         // of a step: a contact bounces nearly as long as the debounce time
    funnel_doubted,       // of a step: water stayed in the funnel
    collects_dropped,     // of a step: more than one collect was dropped before one was good
    evaporation_doubted,  // of the run: the vessel's loss is not what the budget takes it for
    no_form,              // of the correction: no form of the rate dependence fits
    steps_left_out,       // of the correction: it does not rest on every step
    incomplete,           // of the whole: the run was not complete
    limits_unconfirmed,   // of the verdict: nobody compared the limits with their source
    environment_outside,  // of a step: measured outside the laboratory's limits of the environment
};
inline constexpr std::array reservation_names{
    std::string_view("tips_doubted"),
    std::string_view("weight_doubted"),
    std::string_view("gauge_changed"),
    std::string_view("contacts_differ"),
    std::string_view("contact_poor"),
    std::string_view("funnel_doubted"),
    std::string_view("collects_dropped"),
    std::string_view("evaporation_doubted"),
    std::string_view("no_form"),
    std::string_view("steps_left_out"),
    std::string_view("incomplete"),
    std::string_view("limits_unconfirmed"),
    std::string_view("environment_outside"),
};
std::string_view name_of(ReservationId id);

struct Reservation {
    ReservationId id{};
    int step = 0;                   // 0: about the whole
    Claim claim = Claim::reserved;  // what is left of what it is about
};

struct StepStatement {
    int step = 0;
    Claim result = Claim::stated;   // its error, volume per tip and intensity
    Claim verdict = Claim::stated;  // not_stated too where it has no limit
    bool in_correction = true;      // the rate dependence rests on it
};

// Is a quantity traceable: by the certificates named of what measured it, on the day it was used?
enum class Trace { not_needed, named, overdue, missing };
inline constexpr std::array trace_names{std::string_view("not_needed"), std::string_view("named"),
                                        std::string_view("overdue"), std::string_view("missing")};
struct Traceability {
    Trace mass = Trace::not_needed;
    Trace volume = Trace::not_needed;
    Trace time = Trace::not_needed;
    Trace temperature = Trace::not_needed;
    Trace length = Trace::not_needed;
    bool any_certificate = true;  // of any instrument

    std::array<Trace, 5> all() const { return {mass, volume, time, temperature, length}; }
};

// What the paper may be called.
enum class DocumentKind {
    calibration_certificate,
    test_report,        // no instrument's certificate is known: nothing is traceable
    evaluation_report,  // of measurements that others made
};
inline constexpr std::array document_names{std::string_view("calibration_certificate"),
                                           std::string_view("test_report"),
                                           std::string_view("evaluation_report")};

struct Statement {
    DocumentKind document = DocumentKind::calibration_certificate;
    std::vector<StepStatement> steps;  // as in the evaluation
    Claim results = Claim::stated;     // not_stated: of no step
    Claim correction = Claim::stated;
    Claim verdict = Claim::stated;  // of all steps together; not_stated too where no limits were asked for
    Traceability traceability;
    std::vector<Reservation> reservations;

    // A person must accept the reservations, with a reason, before a certificate is issued. That limits are
    // not confirmed is no matter of acceptance: somebody confirms them.
    bool needs_acceptance() const;
    // Null: no such step.
    const StepStatement* of_step(int step) const;
    // The numbers of the steps of which nothing is stated, of those too that a paper's record has left out.
    std::vector<int> withheld_steps() const;
    bool has(ReservationId id) const;
};

// What is known beside the evaluation.
struct Grounds {
    bool complete = true;
    bool supplied = false;  // measured by others
    Traceability traceability;
    std::vector<Finding> run_findings;  // about the run, beside those of the evaluation
};

// Of an evaluation without one step's result nothing is stated.
Statement statement_of(const Evaluation& evaluation, const Gauge& gauge, const Grounds& grounds);

// Nothing may be stated of this step: its tips or its weight are doubted. Decided before the rate dependence
// is fitted, which leaves it out.
bool doubted(const StepResult& step, const Gauge& gauge);

}  // namespace tipwright::calib
