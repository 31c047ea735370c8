// Schema version 1. Never edited once a release has used it: changes are new versions.
// Dates are ISO text ("2031-05-04", times UTC "2031-05-04T10:11:12Z"); they sort as text in both databases.
// Documents are named by their SHA-256, which the rows keep in base64; SQLite keeps them in a folder beside
// the database, PostgreSQL in a table.
#include "report/register/guards.hpp"
#include "report/register/migrations.hpp"

namespace tipwright::report {
namespace {

const char* const people = R"(CREATE TABLE people (
  id $id,
  name $text NOT NULL UNIQUE CHECK (name <> ''),
  may_measure $int NOT NULL CHECK (may_measure IN (0, 1)),
  may_check $int NOT NULL CHECK (may_check IN (0, 1)),
  may_issue $int NOT NULL CHECK (may_issue IN (0, 1)),
  active $int NOT NULL CHECK (active IN (0, 1))
) $end)";

// An interval stands only with a note of where the customer agreed to it (ISO/IEC 17025:2017 7.8.4.3).
const char* const customers = R"(CREATE TABLE customers (
  id $id,
  name $text NOT NULL UNIQUE CHECK (name <> ''),
  address $text NOT NULL,
  contact $text NOT NULL,
  interval_months $int CHECK (interval_months BETWEEN 1 AND 240),
  interval_agreed $text NOT NULL,
  CHECK ((interval_months IS NULL) = (interval_agreed = ''))
) $end)";

const char* const stations = R"(CREATE TABLE stations (
  id $id,
  customer_id $int NOT NULL REFERENCES customers (id),
  name $text NOT NULL CHECK (name <> ''),
  place $text NOT NULL,
  UNIQUE (customer_id, name)
) $end)";

// serial_key and model_key: capitals without spaces, so that one gauge is not entered twice.
// last_calibrated_on and due_on follow from the certificates issued.
const char* const gauges = R"(CREATE TABLE gauges (
  id $id,
  serial $text NOT NULL,
  serial_key $text NOT NULL CHECK (serial_key <> ''),
  model $text NOT NULL,
  model_key $text NOT NULL CHECK (model_key <> ''),
  kind $text NOT NULL,
  nominal_tip_mm $real,
  catch_diameter_mm $real,
  catch_diameter_u_mm $real,
  catch_method $text NOT NULL,
  contacts $text NOT NULL,
  customer_id $int REFERENCES customers (id),
  station_id $int REFERENCES stations (id),
  in_service_on $text NOT NULL,
  interval_months $int CHECK (interval_months BETWEEN 1 AND 240),
  interval_agreed $text NOT NULL,
  note $text NOT NULL,
  last_calibrated_on $text,
  due_on $text,
  UNIQUE (serial_key, model_key),
  CHECK ((interval_months IS NULL) = (interval_agreed = ''))
) $end)";

const char* const instruments = R"(CREATE TABLE instruments (
  id $id,
  identity $text NOT NULL UNIQUE,
  role $text NOT NULL CHECK (role <> ''),
  description $text NOT NULL,
  serial $text NOT NULL,
  bench $text NOT NULL
) $end)";

const char* const calibrations = R"(CREATE TABLE calibrations (
  id $id,
  instrument_id $int NOT NULL REFERENCES instruments (id),
  certificate $text NOT NULL,
  calibrated_on $text NOT NULL,
  due_on $text NOT NULL,
  traceability $text NOT NULL,
  UNIQUE (instrument_id, certificate, calibrated_on)
) $end)";

const char* const instrument_faults = R"(CREATE TABLE instrument_faults (
  id $id,
  instrument_id $int NOT NULL REFERENCES instruments (id),
  good_until $text NOT NULL,
  found_on $text NOT NULL,
  found $text NOT NULL CHECK (found <> '')
) $end)";

const char* const orders = R"(CREATE TABLE orders (
  id $id,
  gauge_id $int NOT NULL REFERENCES gauges (id),
  received_on $text NOT NULL,
  condition $text NOT NULL,
  request $text NOT NULL,
  closed_on $text NOT NULL
) $end)";

const char* const findings = R"(CREATE TABLE findings (
  id $id,
  order_id $int NOT NULL REFERENCES orders (id),
  person_id $int NOT NULL REFERENCES people (id),
  found_on $text NOT NULL,
  found $text NOT NULL CHECK (found <> ''),
  work_done $text NOT NULL
) $end)";

// Turns of the stop screws and the change of volume per tip that came of them, where known.
const char* const adjustments = R"(CREATE TABLE adjustments (
  id $id,
  order_id $int NOT NULL REFERENCES orders (id),
  person_id $int NOT NULL REFERENCES people (id),
  made_on $text NOT NULL,
  turns_a $real,
  turns_b $real,
  change_a_mL $real,
  change_b_mL $real,
  work_done $text NOT NULL
) $end)";

const char* const runs = R"(CREATE TABLE runs (
  id $id,
  gauge_id $int NOT NULL REFERENCES gauges (id),
  bench $text NOT NULL,
  source_name $text NOT NULL,
  source_sha256 $text NOT NULL,
  operator_name $text NOT NULL,
  started_at $text NOT NULL,
  ended_at $text NOT NULL,
  UNIQUE (gauge_id, source_sha256)
) $end)";

// points: "reference_mm_h error_percent U_percent" a step, parted by semicolons; for drift.
const char* const records = R"(CREATE TABLE records (
  id $id,
  run_id $int NOT NULL REFERENCES runs (id),
  person_id $int NOT NULL REFERENCES people (id),
  entered_at $text NOT NULL,
  state $text NOT NULL CHECK (state IN ('as_found', 'as_left')),
  complete $int NOT NULL CHECK (complete IN (0, 1)),
  verdict $text NOT NULL CHECK (verdict IN ('pass', 'fail', 'undecided', 'no_limit', 'not_stated')),
  sha256 $text NOT NULL,
  points $text NOT NULL
) $end)";

const char* const number_series = R"(CREATE TABLE number_series (
  id $id,
  bench $text NOT NULL,
  year $int NOT NULL,
  UNIQUE (bench, year)
) $end)";

const char* const certificates = R"(CREATE TABLE certificates (
  id $id,
  kind $text NOT NULL CHECK (kind IN ('original', 'amendment', 'replacement')),
  state $text NOT NULL CHECK (state IN ('draft', 'checked', 'issued', 'discarded')),
  gauge_id $int NOT NULL REFERENCES gauges (id),
  order_id $int REFERENCES orders (id),
  as_found_id $int REFERENCES records (id),
  as_left_id $int REFERENCES records (id),
  calibrated_on $text NOT NULL,
  refers_to $int REFERENCES certificates (id),
  reason $text,
  drafted_by $int NOT NULL REFERENCES people (id),
  drafted_at $text NOT NULL,
  checked_by $int REFERENCES people (id),
  checked_at $text,
  issued_by $int REFERENCES people (id),
  issued_at $text,
  series_id $int REFERENCES number_series (id),
  sequence $int CHECK (sequence > 0),
  fingerprint $text,
  key_id $text,
  signature $text,
  as_left_sha256 $text,
  as_found_sha256 $text,
  pdf_sha256 $text,
  xml_sha256 $text,
  drift_percent $real,
  drift_en $real,
  drift_at_mm_h $real,
  drift_since $text,
  UNIQUE (series_id, sequence),
  CHECK (as_found_id IS NOT NULL OR as_left_id IS NOT NULL),
  CHECK ((kind = 'original') = (refers_to IS NULL)),
  CHECK ((kind = 'original') = (reason IS NULL) AND coalesce(reason, 'none') <> ''),
  CHECK (checked_by IS NULL OR checked_by <> drafted_by),
  CHECK ((checked_by IS NULL) = (checked_at IS NULL) AND (issued_by IS NULL) = (issued_at IS NULL)),
  CHECK (state NOT IN ('checked', 'issued') OR checked_by IS NOT NULL),
  CHECK (state <> 'draft' OR checked_by IS NULL),
  CHECK ((state = 'issued') = (issued_by IS NOT NULL)),
  CHECK ((state = 'issued') = (series_id IS NOT NULL)),
  CHECK ((state = 'issued') = (sequence IS NOT NULL)),
  CHECK ((state = 'issued') = (signature IS NOT NULL)),
  CHECK ((state = 'issued') = (fingerprint IS NOT NULL)),
  CHECK ((state = 'issued') = (pdf_sha256 IS NOT NULL)),
  CHECK (state <> 'issued' OR as_left_sha256 IS NOT NULL OR as_found_sha256 IS NOT NULL)
) $end)";

const char* const certificate_documents = R"(CREATE TABLE certificate_documents (
  certificate_id $int NOT NULL REFERENCES certificates (id),
  name $text NOT NULL,
  sha256 $text NOT NULL,
  PRIMARY KEY (certificate_id, name)
) $clustered)";

// Which calibration of which instrument an issued certificate rests on, and when it was used: for recalls.
const char* const certificate_calibrations = R"(CREATE TABLE certificate_calibrations (
  calibration_id $int NOT NULL REFERENCES calibrations (id),
  used_on $text NOT NULL,
  certificate_id $int NOT NULL REFERENCES certificates (id),
  PRIMARY KEY (calibration_id, used_on, certificate_id)
) $clustered)";

// hash: SHA-256 in base64 over the hash before it and this row (audit.hpp).
const char* const audit = R"(CREATE TABLE audit (
  seq $int PRIMARY KEY,
  at $text NOT NULL,
  person $text NOT NULL,
  action $text NOT NULL,
  subject $text NOT NULL,
  subject_id $int NOT NULL,
  detail $text NOT NULL,
  hash $text NOT NULL
) $end)";

const char* const audit_head = R"(CREATE TABLE audit_head (
  id $int PRIMARY KEY CHECK (id = 1),
  seq $int NOT NULL,
  at $text NOT NULL,
  hash $text NOT NULL
) $end)";

}  // namespace

Migration first_schema() {
    Migration out;
    out.version = 1;
    out.title = "first schema";
    out.tables = {
        people,
        customers,
        stations,
        gauges,
        instruments,
        calibrations,
        instrument_faults,
        orders,
        findings,
        adjustments,
        runs,
        records,
        number_series,
        certificates,
        certificate_documents,
        certificate_calibrations,
        audit,
        audit_head,
        "CREATE INDEX gauges_due ON gauges (due_on) WHERE due_on IS NOT NULL",
        "CREATE INDEX gauges_customer ON gauges (customer_id, due_on)",
        "CREATE INDEX gauges_station ON gauges (station_id, due_on)",
        "CREATE INDEX gauges_kind ON gauges (kind)",
        "CREATE INDEX orders_gauge ON orders (gauge_id)",
        "CREATE INDEX findings_order ON findings (order_id)",
        "CREATE INDEX adjustments_order ON adjustments (order_id)",
        "CREATE INDEX records_run ON records (run_id)",
        "CREATE INDEX certificates_gauge ON certificates (gauge_id, calibrated_on)",
        "CREATE INDEX certificates_open ON certificates (state) WHERE state IN ('draft', 'checked')",
        "CREATE INDEX certificates_refers ON certificates (refers_to) WHERE refers_to IS NOT NULL",
        "INSERT INTO audit_head (id, seq, at, hash) VALUES (1, 0, '', '')"};
    // "tipw" as a number: tells a register from any other SQLite file.
    out.sqlite_tables = {"PRAGMA application_id = 1953067127"};
    out.postgresql_tables = {"CREATE TABLE documents (sha256 $text PRIMARY KEY, bytes BYTEA NOT NULL)",
                             // Already compressed: PDF streams, and small.
                             "ALTER TABLE documents ALTER COLUMN bytes SET STORAGE EXTERNAL"};
    out.sqlite_guards = sqlite_guards_1();
    out.postgresql_guards = postgresql_guards_1();
    return out;
}

}  // namespace tipwright::report
