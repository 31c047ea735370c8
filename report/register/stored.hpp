// Rows that only the register itself handles, beside those of entries.hpp. Text is empty and ids are 0 where
// the column is NULL. Private to report/register.
#pragma once

#include "report/register/entries.hpp"

namespace tipwright::report {

struct InstrumentFault {
    Id id = 0;
    Id instrument = 0;
    std::string good_until, found_on, found;
};

struct StoredRun {
    Id id = 0;
    Id gauge = 0;
    std::string bench, source_name, source_sha256, operator_name, started_at, ended_at;
};

// points: "reference_mm_h error_percent U_percent" a step, parted by semicolons; for drift.
struct StoredRecord {
    Id id = 0;
    Id run = 0;
    Id person = 0;  // who entered it
    std::string entered_at;
    State state = State::as_found;
    bool complete = false;
    calib::Verdict verdict = calib::Verdict::no_limit;
    std::string sha256, points;
};

struct NumberSeries {
    Id id = 0;
    std::string bench;
    std::int64_t year = 0;
};

// Numbers that were given before an older backup came back: never given again.
struct NumberGap {
    Id id = 0;
    Id series = 0;
    std::int64_t first = 0, last = 0;
    std::string reason;
};

struct StoredCertificate {
    Id id = 0;
    CertificateKind kind = CertificateKind::original;
    CertificateState state = CertificateState::draft;
    Id gauge = 0, order = 0, as_found = 0, as_left = 0;
    std::string calibrated_on;
    Id refers_to = 0;
    std::string reason;
    Id drafted_by = 0;
    std::string drafted_at;
    Id checked_by = 0;
    std::string checked_at;
    Id issued_by = 0;
    std::string issued_at;
    Id series = 0;
    std::int64_t sequence = 0;
    std::string fingerprint, key_id, signature, as_left_sha256, as_found_sha256, pdf_sha256, xml_sha256;
    std::optional<double> drift_percent, drift_En, drift_at_mm_h;
    std::string drift_since;
};

struct CertificateDocument {
    Id certificate = 0;
    std::string name, sha256;
};

// Which calibration of which instrument an issued certificate rests on, and when it was used: for recalls.
struct CalibrationUsed {
    Id calibration = 0;
    std::string used_on;
    Id certificate = 0;
};

// One entry of the log; see audit.hpp.
struct AuditEntry {
    std::int64_t seq = 0;
    std::string at;
    std::string person;
    std::string action;   // "enter", "change", "draft", "check", "issue", ...
    std::string subject;  // "gauge", "certificate", ...
    std::int64_t subject_id = 0;
    std::string detail;
    std::string state;
    std::string hash;
};

struct AuditHead {
    std::int64_t seq = 0;
    std::string at;
    std::string hash;
    Id id = 1;  // there is one
};

// The laboratory's signature under the log as it stood.
struct LogSeal {
    Id id = 0;  // from 1, without gaps
    std::int64_t seq = 0;
    std::string hash, at, key_id, signature;
};

}  // namespace tipwright::report
