// What the register keeps, as plain values. Ids are the register's own; 0 stands for none (or: a new one).
// Dates are ISO text, empty where unknown. Every text is at most 4000 bytes of UTF-8, names and serials at
// most 200.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/decision/drift.hpp"
#include "report/record/record.hpp"
#include "report/register/actor.hpp"
#include "report/seal/record_seal.hpp"

namespace tipwright::report {

using Id = std::int64_t;

// given: by somebody else; good for logging in and setting an own one, not for checking and issuing.
enum class PassphraseState { none, given, own };

struct Person {
    Id id = 0;
    std::string name;
    bool may_measure = true;  // enter records, draft certificates
    bool may_check = false;
    bool may_issue = false;  // and keep the list of people
    bool active = true;
    std::string login = {};  // Argon2id of the passphrase; empty: none. Never handed out
    PassphraseState passphrase = PassphraseState::none;
};

// An interval is kept only with a note of where it was agreed (ISO/IEC 17025:2017 7.8.4.3).
struct AgreedInterval {
    int months = 0;      // 1 to 240
    std::string agreed;  // "order 4711 of 2031-02-03"
};

struct Customer {
    Id id = 0;
    std::string name;
    std::string address;
    std::string contact;
    std::optional<AgreedInterval> interval;  // for all their gauges but those with one of their own
};

struct Station {
    Id id = 0;
    Id customer = 0;
    std::string name;
    std::string place;
};

struct GaugeEntry {
    Id id = 0;
    std::string serial;
    std::string model;  // maker's words, free text
    std::string kind;   // id of the kind file
    std::optional<double> nominal_tip_mm;
    std::optional<double> catch_diameter_mm;
    std::optional<double> catch_diameter_u_mm;
    std::string catch_method;  // how it was measured
    std::string contacts;      // "NO", "NO,NC", ...
    Id customer = 0;
    Id station = 0;
    std::string in_service_on;
    std::optional<AgreedInterval> interval;
    std::string note;
    std::string last_calibrated_on;  // follow from the certificates
    std::string due_on;
};

struct InstrumentEntry {
    Id id = 0;
    std::string role;
    std::string description;
    std::string serial;
    std::string bench;
};

struct InstrumentCalibration {
    Id id = 0;
    Id instrument = 0;
    std::string certificate;
    std::string calibrated_on;
    std::string due_on;
    std::string traceability;
};

struct Order {
    Id id = 0;
    Id gauge = 0;
    std::string received_on;
    std::string condition;
    std::string request;    // what the customer asked for
    std::string closed_on;  // empty: open
};

struct Finding {
    Id order = 0;
    std::string found_on;
    std::string found;
    std::string work_done;
    Id id = 0;
    Id person = 0;  // who entered it
};

struct Adjustment {
    Id order = 0;
    std::string made_on;
    std::optional<double> turns_a;  // of the stop screw of compartment A, clockwise positive
    std::optional<double> turns_b;
    std::optional<double> change_a_mL;  // of the volume per tip
    std::optional<double> change_b_mL;
    std::string work_done;
    Id id = 0;
    Id person = 0;
};

enum class CertificateKind { original, amendment, replacement };
enum class CertificateState { draft, checked, issued, discarded };

struct Draft {
    Id as_found = 0;  // ids of records, at least one
    Id as_left = 0;
    Id order = 0;
    CertificateKind kind = CertificateKind::original;
    std::string refers_to;  // number of the certificate amended or replaced
    std::string reason;     // why (ISO/IEC 17025:2017 7.8.8)
};

struct NamedDocument {
    std::string name;
    std::string sha256;
};

struct Certificate {
    Id id = 0;
    std::string number;  // empty: none yet
    CertificateKind kind = CertificateKind::original;
    CertificateState state = CertificateState::draft;
    Id gauge = 0;
    std::string serial;
    Id as_found = 0;
    Id as_left = 0;
    std::string calibrated_on;
    Id order = 0;
    std::string refers_to;  // number
    std::string reason;
    std::string superseded_by;  // number of an issued replacement; empty: stands
    std::vector<std::string> amended_by;
    std::string drafted_by, drafted_at, checked_by, checked_at, issued_by, issued_at;
    std::optional<seal::Seal> seal;
    std::string record_sha256;    // the sealed record: as left where there is one
    std::string as_found_sha256;  // the second sealed record; empty when there is one only
    std::string pdf_sha256;
    std::string xml_sha256;
    std::vector<NamedDocument> others;
    std::optional<calib::LargestDrift> drift;  // since the calibration before
};

// The errors of an earlier calibration, as the gauge left it.
struct EarlierCurve {
    std::string on;  // ISO date
    std::string number;
    State state = State::as_found;
    std::string points;  // a KeptCurve, as the register keeps it
};

// What a certificate is drawn from: everything is fixed, only the drawing is left to do.
struct IssueSheet {
    std::string number;
    CertificateKind kind = CertificateKind::original;
    std::string refers_to;
    std::string reason;
    std::string drafted_by;
    std::string checked_by;
    std::optional<Record> as_found;  // with number, issue date and who authorises filled in
    std::optional<Record> as_left;
    std::string as_found_json;  // the very bytes that are sealed
    std::string as_left_json;
    std::string issued_on;  // ISO date
    seal::Seal seal;
    std::optional<calib::LargestDrift> drift;
    std::vector<EarlierCurve> history;  // oldest first
    std::vector<Finding> findings;      // of the service order, by date
    std::vector<Adjustment> adjustments;
};

struct Attachment {
    std::string name;
    std::string bytes;
};

struct Documents {
    std::string pdf;  // needed
    std::string xml;  // may be empty
    // Instead of `xml`, where it carries the PDF as it is given out: sealed and signed.
    std::function<Result<std::string>(const std::string& pdf)> xml_with;
    std::vector<Attachment> others;  // at most 20
};

// May be called on several threads at once, a sheet a thread.
using DocumentMaker = std::function<Result<Documents>(const IssueSheet&)>;

struct Issued {
    Id id = 0;
    std::string number;
    bool already = false;  // it was issued before; nothing was done
};

struct ImportReport {
    int added = 0;
    int changed = 0;
    int unchanged = 0;
    std::vector<Fault> faults;  // any: nothing was imported
};

struct InspectionReport {
    std::int64_t audit_entries = 0;
    std::int64_t certificates = 0;
    std::int64_t documents = 0;
    std::int64_t stray_documents = 0;  // named by nothing: left by a crash, harmless
    std::string audit_head;
    std::int64_t checked_by_login = 0;  // of the certificates: whoever checked them had logged in
    std::int64_t sealed_entries = 0;    // up to here the log is sealed by the laboratory, by the keys given
    std::string sealed_at;
    std::vector<Fault> faults;
    // What was accepted or missed when the log was sealed, and stays told; an issue whose end is not noted.
    std::vector<std::string> accepted;
};

}  // namespace tipwright::report
