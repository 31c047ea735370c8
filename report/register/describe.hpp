// What the register keeps, each kind of row described once: its columns in the order of the table. The
// schema, every statement, the log's detail and state, backup, inspection and the import of lists follow from
// here (rows.hpp), as the JSON of a record follows from report/record/fields.hpp. Private to report/register.
//
// A visitor has:  v(Column, value)         id, string, bool, Id, optional<double>, enumeration,
//                                          optional<AgreedInterval>
//                 v.key(Column, make)      make() gives the text, from the other values
#pragma once

#include <array>
#include <concepts>
#include <type_traits>

#include "report/record/fields.hpp"
#include "report/register/beyond_bench.hpp"
#include "report/register/columns.hpp"
#include "report/register/names.hpp"
#include "report/register/stored.hpp"

namespace tipwright::report {

template <class T, class Wanted>
concept RowOf = std::same_as<std::remove_const_t<T>, Wanted>;

inline constexpr std::array certificate_kind_names{
    std::string_view("original"), std::string_view("amendment"), std::string_view("replacement")};
inline constexpr std::array certificate_state_names{std::string_view("draft"), std::string_view("checked"),
                                                    std::string_view("issued"),
                                                    std::string_view("discarded")};

template <class T>
inline const TableInfo table_of{};

template <>
inline const TableInfo table_of<Person>{"people", "person", {"UNIQUE (name_key)"}};
template <class V>
void describe(V& v, RowOf<Person> auto& x) {
    v(column::id(), x.id);
    v(column::name("name"), x.name);
    v.key(column::key("name_key"), [&] { return person_key(x.name); });
    v(column::flag("may_measure"), x.may_measure);
    v(column::flag("may_check"), x.may_check);
    v(column::flag("may_issue"), x.may_issue);
    v(column::flag("active"), x.active);
    v(column::secret("login"), x.login);
}

template <>
inline const TableInfo table_of<Customer>{
    "customers", "customer", {"UNIQUE (name)", "CHECK ((interval_months IS NULL) = (interval_agreed = ''))"}};
template <class V>
void describe(V& v, RowOf<Customer> auto& x) {
    v(column::id(), x.id);
    v(column::name("name"), x.name);
    v(column::text("address"), x.address);
    v(column::text("contact"), x.contact);
    v(column::interval(), x.interval);
}

template <>
inline const TableInfo table_of<Station>{"stations", "station", {"UNIQUE (customer_id, name)"}};
template <class V>
void describe(V& v, RowOf<Station> auto& x) {
    v(column::id(), x.id);
    v(column::of("customers", "customer_id"), x.customer);
    v(column::name("name"), x.name);
    v(column::text("place"), x.place);
}

// serial_key and model_key: capitals without spaces, so that one gauge is not entered twice.
template <>
inline const TableInfo table_of<GaugeEntry>{
    "gauges",
    "gauge",
    {"UNIQUE (serial_key, model_key)", "CHECK ((interval_months IS NULL) = (interval_agreed = ''))"}};
template <class V>
void describe(V& v, RowOf<GaugeEntry> auto& x) {
    v(column::id(), x.id);
    v(column::name("serial"), x.serial);
    v.key(column::key("serial_key"), [&] { return key_of(x.serial); });
    v(column::name("model"), x.model);
    v.key(column::key("model_key"), [&] { return key_of(x.model); });
    v(column::name("kind"), x.kind);
    v(column::number("nominal_tip_mm", 0.01, 2), x.nominal_tip_mm);
    v(column::number("catch_diameter_mm", 50, 700), x.catch_diameter_mm);
    v(column::number("catch_diameter_u_mm", 0, 10), x.catch_diameter_u_mm);
    v(column::text("catch_method"), x.catch_method);
    v(column::text("contacts"), x.contacts);
    v(column::maybe_of("customers", "customer_id"), x.customer);
    v(column::maybe_of("stations", "station_id"), x.station);
    v(column::date("in_service_on"), x.in_service_on);
    v(column::interval(), x.interval);
    v(column::text("note"), x.note);
    v(column::derived("last_calibrated_on"), x.last_calibrated_on);
    v(column::derived("due_on"), x.due_on);
}

template <>
inline const TableInfo table_of<InstrumentEntry>{"instruments", "instrument", {"UNIQUE (identity)"}};
template <class V>
void describe(V& v, RowOf<InstrumentEntry> auto& x) {
    v(column::id(), x.id);
    v.key(column::key("identity"), [&] { return instrument_key(x.role, x.description, x.serial); });
    v(column::name("role"), x.role);
    v(column::text("description"), x.description);
    v(column::text("serial"), x.serial);
    v(column::text("bench"), x.bench);
}

template <>
inline const TableInfo table_of<InstrumentCalibration>{
    "calibrations", "calibration", {"UNIQUE (instrument_id, certificate, calibrated_on)"}};
template <class V>
void describe(V& v, RowOf<InstrumentCalibration> auto& x) {
    v(column::id(), x.id);
    v(column::of("instruments", "instrument_id"), x.instrument);
    v(column::text("certificate"), x.certificate);
    v(column::date("calibrated_on"), x.calibrated_on);
    v(column::date("due_on"), x.due_on);
    v(column::text("traceability"), x.traceability);
}

template <>
inline const TableInfo table_of<InstrumentFault>{"instrument_faults", "instrument fault"};
template <class V>
void describe(V& v, RowOf<InstrumentFault> auto& x) {
    v(column::id(), x.id);
    v(column::of("instruments", "instrument_id"), x.instrument);
    v(column::date("good_until"), x.good_until);
    v(column::date("found_on"), x.found_on);
    v(column::text("found"), x.found);
}

template <>
inline const TableInfo table_of<Order>{"orders", "order"};
template <class V>
void describe(V& v, RowOf<Order> auto& x) {
    v(column::id(), x.id);
    v(column::of("gauges", "gauge_id"), x.gauge);
    v(column::date("received_on"), x.received_on);
    v(column::text("condition"), x.condition);
    v(column::text("request"), x.request);
    v(column::date("closed_on"), x.closed_on);
}

template <>
inline const TableInfo table_of<Finding>{"findings", "finding"};
template <class V>
void describe(V& v, RowOf<Finding> auto& x) {
    v(column::id(), x.id);
    v(column::of("orders", "order_id"), x.order);
    v(column::of("people", "person_id"), x.person);
    v(column::date("found_on"), x.found_on);
    v(column::text("found"), x.found);
    v(column::text("work_done"), x.work_done);
}

// Turns of the stop screws and the change of volume per tip that came of them, where known.
template <>
inline const TableInfo table_of<Adjustment>{"adjustments", "adjustment"};
template <class V>
void describe(V& v, RowOf<Adjustment> auto& x) {
    v(column::id(), x.id);
    v(column::of("orders", "order_id"), x.order);
    v(column::of("people", "person_id"), x.person);
    v(column::date("made_on"), x.made_on);
    v(column::number("turns_a", -50, 50), x.turns_a);
    v(column::number("turns_b", -50, 50), x.turns_b);
    v(column::number("change_a_mL", -50, 50), x.change_a_mL);
    v(column::number("change_b_mL", -50, 50), x.change_b_mL);
    v(column::text("work_done"), x.work_done);
}

template <>
inline const TableInfo table_of<StoredRun>{"runs", "run", {"UNIQUE (gauge_id, source_sha256)"}};
template <class V>
void describe(V& v, RowOf<StoredRun> auto& x) {
    v(column::id(), x.id);
    v(column::of("gauges", "gauge_id"), x.gauge);
    v(column::plain("bench"), x.bench);
    v(column::plain("source_name"), x.source_name);
    v(column::plain("source_sha256"), x.source_sha256);
    v(column::plain("operator_name"), x.operator_name);
    v(column::plain("started_at"), x.started_at);
    v(column::plain("ended_at"), x.ended_at);
}

template <>
inline const TableInfo table_of<StoredRecord>{"records", "record"};
template <class V>
void describe(V& v, RowOf<StoredRecord> auto& x) {
    v(column::id(), x.id);
    v(column::of("runs", "run_id"), x.run);
    v(column::of("people", "person_id"), x.person);
    v(column::plain("entered_at"), x.entered_at);
    v(column::choice("state", json::state_names), x.state);
    v(column::flag("complete"), x.complete);
    v(column::choice("verdict", json::verdict_names), x.verdict);
    v(column::plain("sha256"), x.sha256);
    v(column::plain("points"), x.points);
}

template <>
inline const TableInfo table_of<NumberSeries>{"number_series", "number series", {"UNIQUE (bench, year)"}};
template <class V>
void describe(V& v, RowOf<NumberSeries> auto& x) {
    v(column::id(), x.id);
    v(column::plain("bench"), x.bench);
    v(column::whole("year"), x.year);
}

template <>
inline const TableInfo table_of<NumberGap>{
    "number_gaps", "number gap", {"CHECK (last_number >= first_number)"}};
template <class V>
void describe(V& v, RowOf<NumberGap> auto& x) {
    v(column::id(), x.id);
    v(column::of("number_series", "series_id"), x.series);
    v(column::whole("first_number", "first_number > 0"), x.first);
    v(column::whole("last_number"), x.last);
    v(column::text("reason"), x.reason);
}

template <>
inline const TableInfo table_of<StoredCertificate>{
    "certificates",
    "certificate",
    {"UNIQUE (series_id, sequence)", "CHECK (as_found_id IS NOT NULL OR as_left_id IS NOT NULL)",
     "CHECK ((kind = 'original') = (refers_to IS NULL))",
     "CHECK ((kind = 'original') = (reason IS NULL) AND coalesce(reason, 'none') <> '')",
     "CHECK (checked_by IS NULL OR checked_by <> drafted_by)",
     "CHECK ((checked_by IS NULL) = (checked_at IS NULL) AND (issued_by IS NULL) = (issued_at IS NULL))",
     "CHECK (state NOT IN ('checked', 'issued') OR checked_by IS NOT NULL)",
     "CHECK (state <> 'draft' OR checked_by IS NULL)", "CHECK ((state = 'issued') = (issued_by IS NOT NULL))",
     "CHECK ((state = 'issued') = (series_id IS NOT NULL))",
     "CHECK ((state = 'issued') = (sequence IS NOT NULL))",
     "CHECK ((state = 'issued') = (signature IS NOT NULL))",
     "CHECK ((state = 'issued') = (fingerprint IS NOT NULL))",
     "CHECK ((state = 'issued') = (pdf_sha256 IS NOT NULL))",
     "CHECK (state <> 'issued' OR as_left_sha256 IS NOT NULL OR as_found_sha256 IS NOT NULL)"}};
template <class V>
void describe(V& v, RowOf<StoredCertificate> auto& x) {
    v(column::id(), x.id);
    v(column::choice("kind", certificate_kind_names), x.kind);
    v(column::choice("state", certificate_state_names), x.state);
    v(column::of("gauges", "gauge_id"), x.gauge);
    v(column::maybe_of("orders", "order_id"), x.order);
    v(column::maybe_of("records", "as_found_id"), x.as_found);
    v(column::maybe_of("records", "as_left_id"), x.as_left);
    v(column::plain("calibrated_on"), x.calibrated_on);
    v(column::maybe_of("certificates", "refers_to"), x.refers_to);
    v(column::maybe("reason"), x.reason);
    v(column::of("people", "drafted_by"), x.drafted_by);
    v(column::plain("drafted_at"), x.drafted_at);
    v(column::maybe_of("people", "checked_by"), x.checked_by);
    v(column::maybe("checked_at"), x.checked_at);
    v(column::maybe_of("people", "issued_by"), x.issued_by);
    v(column::maybe("issued_at"), x.issued_at);
    v(column::maybe_of("number_series", "series_id"), x.series);
    v(column::maybe_whole("sequence", "sequence > 0"), x.sequence);
    v(column::maybe("fingerprint"), x.fingerprint);
    v(column::maybe("key_id"), x.key_id);
    v(column::maybe("signature"), x.signature);
    v(column::maybe("as_left_sha256"), x.as_left_sha256);
    v(column::maybe("as_found_sha256"), x.as_found_sha256);
    v(column::maybe("pdf_sha256"), x.pdf_sha256);
    v(column::maybe("xml_sha256"), x.xml_sha256);
    v(column::number("drift_percent"), x.drift_percent);
    v(column::number("drift_en"), x.drift_En);
    v(column::number("drift_at_mm_h"), x.drift_at_mm_h);
    v(column::maybe("drift_since"), x.drift_since);
}

template <>
inline const TableInfo table_of<CertificateDocument>{
    "certificate_documents", "", {}, {"certificate_id", "name"}, "certificates"};
template <class V>
void describe(V& v, RowOf<CertificateDocument> auto& x) {
    v(column::of("certificates", "certificate_id"), x.certificate);
    v(column::plain("name"), x.name);
    v(column::plain("sha256"), x.sha256);
}

template <>
inline const TableInfo table_of<CalibrationUsed>{
    "certificate_calibrations", "", {}, {"calibration_id", "used_on", "certificate_id"}, "certificates"};
template <class V>
void describe(V& v, RowOf<CalibrationUsed> auto& x) {
    v(column::of("calibrations", "calibration_id"), x.calibration);
    v(column::plain("used_on"), x.used_on);
    v(column::of("certificates", "certificate_id"), x.certificate);
}

template <>
inline const TableInfo table_of<AuditEntry>{"audit", "", {}, {"seq"}};
template <class V>
void describe(V& v, RowOf<AuditEntry> auto& x) {
    v(column::whole("seq"), x.seq);
    v(column::plain("at"), x.at);
    v(column::plain("person"), x.person);
    v(column::plain("action"), x.action);
    v(column::plain("subject"), x.subject);
    v(column::whole("subject_id"), x.subject_id);
    v(column::plain("detail"), x.detail);
    v(column::plain("state"), x.state);
    v(column::plain("hash"), x.hash);
}

template <>
inline const TableInfo table_of<AuditHead>{"audit_head", "", {"CHECK (one = 1)"}, {"one"}};
template <class V>
void describe(V& v, RowOf<AuditHead> auto& x) {
    v(column::whole("one"), x.id);
    v(column::whole("seq"), x.seq);
    v(column::plain("at"), x.at);
    v(column::plain("hash"), x.hash);
}

template <>
inline const TableInfo table_of<LogSeal>{"log_seals", ""};
template <class V>
void describe(V& v, RowOf<LogSeal> auto& x) {
    v(column::id(), x.id);
    v(column::whole("seq"), x.seq);
    v(column::plain("hash"), x.hash);
    v(column::plain("at"), x.at);
    v(column::plain("key_id"), x.key_id);
    v(column::plain("signature"), x.signature);
}

// certificate_key: capitals without spaces, so that one certificate is not entered twice.
template <>
inline const TableInfo table_of<ElsewhereCalibration>{
    "calibrations_elsewhere", "calibration elsewhere", {"UNIQUE (gauge_id, certificate_key)"}, {"id"}, {}, 2};
template <class V>
void describe(V& v, RowOf<ElsewhereCalibration> auto& x) {
    v(column::id(), x.id);
    v(column::of("gauges", "gauge_id"), x.gauge);
    v(column::of("people", "person_id"), x.person);
    v(column::date("calibrated_on"), x.calibrated_on);
    v(column::name("certificate"), x.certificate);
    v.key(column::key("certificate_key"), [&] { return key_of(x.certificate); });
    v(column::text("laboratory"), x.laboratory);
    v(column::text("points"), x.points);
}

template <>
inline const TableInfo table_of<FieldCheckEntry>{"field_checks", "field check", {}, {"id"}, {}, 2};
template <class V>
void describe(V& v, RowOf<FieldCheckEntry> auto& x) {
    v(column::id(), x.id);
    v(column::of("gauges", "gauge_id"), x.gauge);
    v(column::of("people", "person_id"), x.person);
    v(column::date("made_on"), x.made_on);
    v(column::text("made_by"), x.made_by);
    v(column::text("method"), x.method);
    v(column::whole("tips", "tips >= 0"), x.tips);
    v(column::number("volume_mL", 0, 1e6), x.volume_mL);
    v(column::number("volume_U_mL", 0, 1e6), x.volume_U_mL);
    v(column::number("intensity_mm_h", 0, 1e5), x.intensity_mm_h);
    v(column::number("error_percent", -100, 1e6), x.error_percent);
    v(column::number("U_percent", 0, 1e6), x.U_percent);
    v(column::number("coverage_factor", 1, 1e3), x.coverage_factor);
    v(column::number("limit_percent", 0, 1e3), x.limit_percent);
    v(column::text("verdict"), x.verdict);
    v(column::text("accepted_for"), x.accepted_for);
    v(column::text("note"), x.note);
}

}  // namespace tipwright::report
