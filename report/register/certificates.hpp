// Rows of certificates, as drafting, issuing and inspecting read them. Private to report/register.
#pragma once

#include <optional>
#include <string>

#include "report/register/impl.hpp"

namespace tipwright::report {

inline constexpr int sequence_digits = 5;

std::string number_text(const std::string& bench, std::int64_t year, std::int64_t sequence);
// Bench, year, sequence of a number; nothing when it is none.
struct NumberParts {
    std::string bench;
    std::int64_t year = 0;
    std::int64_t sequence = 0;
};
std::optional<NumberParts> parts_of_number(const std::string& number);
bool is_bench_code(const std::string& text);

// SQL: was certificate c replaced?
inline constexpr const char* is_superseded =
    "EXISTS (SELECT 1 FROM certificates n WHERE n.refers_to = c.id AND n.kind = "
    "'replacement' AND n.state = 'issued')";

// 0: no such issued certificate.
Id certificate_with_number(Database& database, const std::string& number);
// Throws Stop when there is none.
Certificate read_certificate(Database& database, Id id);
// Throws Stop where a certificate would amend or replace one of another gauge; 0: it refers to none.
void refers_to_same_gauge(Database& database, Id refers_to, Id gauge, const std::vector<Id>& records);
// Number of the issued certificate that replaces this one; empty: none.
std::string superseded_by(Database& database, Id id);

struct RecordRow {
    Id id = 0;
    Id gauge = 0;
    std::string bench;
    std::string state;  // "as_found", "as_left"
    bool complete = false;
    std::string operator_name;
    std::string started_at;
    std::string ended_at;
    std::string calibrated_on;
    std::string sha256;
    std::string points;
};
RecordRow read_record(Database& database, Id id);
// Of a service order, by date.
std::vector<Finding> findings_of(Database& database, Id order);
std::vector<Adjustment> adjustments_of(Database& database, Id order);

struct EarlierRecord {
    EarlierCurve curve;
    Id certificate = 0;
    Id record = 0;
    std::string sha256;  // of the record it is drawn from
};
// The latest certificates of the gauge that still stand, from before this record; oldest first. `but`: not
// that one.
std::vector<EarlierRecord> records_before(Database& database, const RecordRow& record, Id but);

}  // namespace tipwright::report
