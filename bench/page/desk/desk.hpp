// Desk: what the page has done for persons: who they are, which gauge comes next, runs to begin, certificates
// and the years of the register. The program gives it (bench/program/page/); tests give their own. Called on
// one thread, one call at a time, which may take a second; nothing that stops a pump goes through it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/page/live/came_out.hpp"
#include "calib/base/plan.hpp"
#include "calib/decision/adjustment.hpp"
#include "calib/decision/field_check.hpp"
#include "calib/tips/sides.hpp"
#include "report/register/command_log.hpp"
#include "report/register/entries.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/life.hpp"
#include "report/register/table.hpp"
#include "report/seal/passphrase.hpp"

namespace tipwright::page {

struct PersonAtDoor {
    std::string name;
    bool has_passphrase = false;
};

struct Permissions {
    bool may_measure = false;
    bool may_check = false;
    bool may_issue = false;
};

// A run somebody wishes for. bench and plan: as the desk offers them.
struct RunWish {
    std::string serial;
    std::string bench;
    std::string plan;
    std::string reason;   // why an overdue calibration or a failed check is accepted
    std::string side_up;  // A or B: of the bucket, before the first tip; empty: not known
    bool as_left = false;
};

struct Offer {
    std::string name;
    std::string title;
};

struct GaugeAtDoor {
    report::GaugeEntry entry;
    std::string kind_title;
    std::string station;
    std::string customer;
    std::optional<report::Order> order;  // open
    report::KeptCurve last_curve;        // of the laboratory's own last certificate
    std::string last_certificate;
    std::string last_curve_on;
    bool last_elsewhere = false;  // entry.last_calibrated_on: another laboratory's
};

struct InstrumentToday {
    std::string role;
    std::string description;
    std::string serial;
    std::string due_on;
    std::string checked_on;  // when its last check or calibration at this bench was; empty: none is known
};

// Of a bucket: which compartment is A, by the marks of its kind.
struct SidesAhead {
    calib::SideMarks marks;
    char by_kind = 0;  // A or B: its kind says how it is laid; 0: somebody has to look
};

struct StepAhead {
    double intensity_mm_h = 0;
    std::optional<calib::LimitRow> limits;
    double least_s = 0;
    int repeats = 1;
};

// A run of the gauge that did not come to its end.
struct UnfinishedRun {
    std::string run;          // folder, relative to that of all runs
    bool is_running = false;  // a program measures it now
    bool in_the_way = true;   // no other can begin before
};

// What becomes of a run that did not come to its end.
struct RecoveryWanted {
    std::string run;      // folder, relative to that of all runs
    bool resume = false;  // measure what is missing; else it is closed as incomplete
};

// The laboratory's check gauge, as it stands before certificates go out.
struct CheckGaugeSeen {
    std::string serial;
    std::string standing;      // in_control, not_known, long_ago, alarm, answered: the last four have words
    std::string on;            // day of the alarm's run, or of the last one
    std::optional<Fault> why;  // it is not known

    bool in_control() const { return standing == "in_control"; }
};

// What stands before a run, as far as it can be said.
struct RunAhead {
    RunWish wish;  // with what was left open filled in
    std::vector<Offer> benches;
    std::vector<Offer> plans;
    std::optional<GaugeAtDoor> gauge;
    std::string bench_title;
    bool is_virtual = false;
    std::vector<InstrumentToday> instruments;
    std::optional<SidesAhead> sides;   // none: a spoon, or no gauge yet
    std::vector<std::string> against;  // what needs a reason before this bench is used
    std::vector<std::string> told;     // what should be known of it
    std::vector<StepAhead> steps;
    double least_s = 0;
    std::string limits;         // title; empty: nothing is judged
    std::string found_plan;     // as left alone: title of the plan it was measured by as found, if another
    std::string found_limits;   // and of its limits, if others
    std::vector<Offer> gauges;  // that the register knows, by serial number
    std::optional<UnfinishedRun> unfinished;
    std::optional<Fault> fault;  // why it cannot begin
    std::optional<CheckGaugeSeen> check_gauge;
    std::string today;  // ISO date
};

struct AdjustmentWanted {
    std::string run;                    // folder, relative to that of all runs
    std::optional<double> mL_per_turn;  // of a stop screw, clockwise; none: what its kind says
    double mL_per_turn_u = 0;           // its standard uncertainty
};

struct AdjustmentSeen {
    std::string serial;
    calib::AdjustmentAdvice advice;
    double coverage = calib::default_coverage;
    bool sides_known = false;                     // A and B are the sides that a person can touch
    calib::SideMarks marks;                       // how the kind tells them apart
    std::optional<calib::Uncertain> mL_per_turn;  // that the turns rest on
    std::optional<bool> clockwise_is_more;        // which way a turn above zero is; none: nobody said
};

// What somebody turned on a gauge.
struct TurnsMade {
    std::string serial;
    std::optional<double> turns_a;  // clockwise positive; of a spoon its only screw
    std::optional<double> turns_b;
};

struct CertificateWanted {
    std::string serial;
    std::string customer;
    std::size_t most = 100;
};

// Of a certificate's runs.
struct CertificateCameOut {
    std::optional<CameOut> as_found;
    std::optional<CameOut> as_left;
};

struct CurveOfYear {
    std::string number;
    std::string on;
    bool as_left = false;
    report::KeptCurve curve;
    bool elsewhere = false;  // another laboratory's; number is theirs
};

struct LifeOfGauge {
    GaugeAtDoor gauge;
    report::Life events;
    std::vector<CurveOfYear> curves;  // oldest first
    std::string today;                // ISO date
};

struct RecallWanted {
    std::string instrument;
    std::string from;
    std::string to;
};

struct FileGiven {
    std::string name;
    std::string type;
    std::string bytes;
};

// Water poured in and tips counted, or tips logged and the discharge collected.
struct FieldCheckWanted {
    std::string serial;
    bool collected = false;
    int tips = 0;
    double amount = 0;  // poured, mL; collected, g
    double amount_u = 0.5;
    double astray = 0;  // of it: clung to the funnel, mL; lost before it was weighed, g
    double astray_u = 0.5;
    double water_temperature_C = 20;   // at the weighing
    std::optional<double> duration_s;  // of the pouring
    std::optional<double> limit_percent;
    bool began_on_tip = false;
    bool ended_on_tip = false;
    std::string made_on;  // ISO date; empty: today
    std::string accept;   // why an error beyond belief is kept
    std::string note;
};

struct FieldCheckSeen {
    FieldCheckWanted wanted;
    calib::FieldCheck check;
};

struct IssuedHere {
    std::string number;
    std::vector<std::string> warnings;  // what should be known of the numbers given before
};

class Desk {
public:
    virtual ~Desk() = default;

    // Every command goes into the audit log before it is done. Done: it stands there, or there is no
    // register.
    virtual Outcome note(const report::PageCommand& command) = 0;

    // --- persons --- (empty: there is no register, or nobody in it)
    virtual Result<std::vector<PersonAtDoor>> persons() = 0;
    // What the register lets this person do.
    virtual Result<Permissions> permissions(const std::string& name) = 0;
    // Whoever has a passphrase needs it; whoever has none is taken at their word.
    virtual Result<report::Actor> log_in(const std::string& name, const seal::Passphrase& passphrase) = 0;

    // --- runs ---
    virtual RunAhead look_ahead(const RunWish& wish) = 0;
    // Begins it as a program of its own; the folder of the run, relative to that of all runs.
    virtual Result<std::string> start(const report::Actor& actor, const RunWish& wish) = 0;

    // Stops its pump, then goes on or closes it. Done: it is closed, or its program has begun to go on.
    virtual Outcome recover(const report::Actor& actor, const RecoveryWanted& wanted) = 0;

    // What to turn on a gauge after a complete run.
    virtual Result<AdjustmentSeen> adjust(const AdjustmentWanted& wanted) = 0;

    // Into the open order of the gauge; one is opened where there is none.
    virtual Outcome turned(const report::Actor& actor, const TurnsMade& made) = 0;

    // --- certificates ---
    virtual Result<report::Table> open_work() = 0;
    virtual Result<report::Table> certificates(const CertificateWanted& wanted) = 0;
    virtual Result<report::Certificate> certificate(report::Id id) = 0;
    virtual Result<report::Certificate> certificate(const std::string& number) = 0;
    virtual Result<CertificateCameOut> came_out(const report::Certificate& certificate) = 0;
    virtual Result<report::Id> draft(const report::Actor& actor, const std::string& serial,
                                     const std::string& reason) = 0;
    // None: the page was given no check gauge.
    virtual Result<std::optional<CheckGaugeSeen>> check_gauge() = 0;
    virtual Result<FileGiven> look_of_draft(report::Id id) = 0;
    virtual Outcome check(const report::Actor& actor, report::Id id) = 0;
    virtual Outcome send_back(const report::Actor& actor, report::Id id, const std::string& why) = 0;
    virtual Outcome discard(const report::Actor& actor, report::Id id, const std::string& why) = 0;
    virtual Result<IssuedHere> issue(const report::Actor& actor, report::Id id,
                                     const seal::Passphrase& seal_passphrase, const std::string& reason) = 0;
    // Drafts one that replaces an issued one.
    virtual Result<report::Id> replace(const report::Actor& actor, const std::string& number,
                                       const std::string& reason) = 0;
    // Names of the files of an issued certificate, and one of them.
    virtual Result<std::vector<std::string>> files(const std::string& number) = 0;
    virtual Result<FileGiven> file(const std::string& number, const std::string& name) = 0;
    // Everything the station needs, in a zip: of one certificate.
    virtual Result<FileGiven> pack(const std::string& number) = 0;

    // --- in the field --- evaluated, and kept in the gauge's life
    virtual Result<FieldCheckSeen> field_check(const report::Actor& actor,
                                               const FieldCheckWanted& wanted) = 0;

    // --- years ---
    virtual Result<report::Table> gauges(const CertificateWanted& wanted) = 0;
    virtual Result<LifeOfGauge> life(const std::string& serial) = 0;
    virtual Result<report::Table> due() = 0;
    virtual Result<report::Table> instruments() = 0;
    virtual Result<report::Table> recall(const RecallWanted& wanted) = 0;
    virtual Result<report::Table> in_tolerance() = 0;
    virtual std::string today() = 0;
};

}  // namespace tipwright::page
