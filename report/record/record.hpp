// Record: one calibration as it is kept and passed on: identity, conditions, instruments, results.
// A pure function of a journal (or of supplied data). Written as JSON by report/record/record_json.hpp to the
// schema templates/record.schema.json. The certificate is drawn from a record and nothing else.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/base/laboratory_facts.hpp"
#include "calib/base/plan.hpp"
#include "calib/decision/evaluation.hpp"
#include "calib/decision/statement.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::report {

inline constexpr const char* record_version = "1.0";

struct Party {  // laboratory or customer
    std::string name;
    std::string address;
    std::string contact;
};

struct GaugeIdentity {
    std::string kind;        // id of the kind file, for example "siphon-200"
    std::string kind_title;  // for people
    std::string model;       // maker's words, free text
    std::string serial;
    std::string condition;  // as received, where relevant
    std::string station;
    std::string catch_diameter_method;
};

struct InstrumentUsed {
    std::string role;  // "balance", "pump", "tip counter", "thermometer", ...
    std::string description;
    std::string serial;
    std::string certificate;    // its own calibration
    std::string calibrated_on;  // ISO date; empty: none stated
    std::string due_on;
    std::string traceability;        // sentence
    std::string issued_by = {};      // laboratory that issued its certificate
    std::string accreditation = {};  // of that laboratory
};

// What spoke against an instrument before the work, and that it was used all the same.
enum class Nonconformity { calibration_overdue, check_failed };
struct Concession {
    std::string role;
    std::string serial;
    Nonconformity nonconformity = Nonconformity::calibration_overdue;
    std::string since;              // ISO date on which the calibration was due, or of the check
    std::optional<double> error_g;  // what the check found, and at which mass
    std::optional<double> mass_g;
    std::string reason;  // in the words of whoever accepted it; empty: none is known
};

// A person's word that a certificate may be issued in spite of the statement's reservations.
struct Acceptance {
    std::string reason;
    std::string by;
    std::string on;  // ISO date
};

enum class State { as_found, as_left };
enum class Origin { real_bench, virtual_bench, supplied_data };
// complete: certificate may be issued. Otherwise the reason is in Record::end_reason.
enum class Completeness { complete, incomplete };

struct Record {
    std::string version = record_version;
    std::string program_version;
    std::string number;  // certificate number; "DRAFT" until the register gives one
    Origin origin = Origin::virtual_bench;
    bool invented = false;  // demonstration identities and data
    State state = State::as_found;
    Completeness completeness = Completeness::complete;
    std::string end_reason;

    Party laboratory;
    calib::LaboratoryFacts laboratory_facts;
    std::string place;  // where the work was done
    Party customer;
    GaugeIdentity identity;
    calib::Gauge gauge;
    std::string operator_name;
    std::string authorised_by;  // empty: not yet authorised
    std::string received_on;    // ISO date, may be empty
    std::string started_at;     // ISO 8601 UTC
    std::string ended_at;
    std::string issued_on;                // ISO date
    std::string method;                   // paragraph
    std::vector<std::string> deviations;  // from the method; supplied data, remarks of the run, ...

    std::vector<InstrumentUsed> instruments;
    std::vector<Concession> concessions;
    calib::BenchMetrology bench;
    calib::Plan plan;
    calib::Evaluation evaluation;
    std::vector<calib::Finding> findings;  // about the run, beside those of the evaluation
    calib::Statement statement;            // what may be claimed, by report/record/statement_of.hpp
    std::optional<Acceptance> acceptance;  // of its reservations
    double bench_duration_s = 0;           // run time, first command to last

    std::string source_name;    // file name of the journal or the supplied table
    std::string source_sha256;  // of its bytes, hex
};

}  // namespace tipwright::report
