// Entering records: what a bench measured, with the gauge, customer, station and instruments it names.
#include "report/register/records.hpp"

#include <cmath>

#include "calib/base/dates.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/files/fingerprint.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/kept_curve.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::report {
namespace {

// Free text of a record as it may stand in a name of the register.
std::string name_text(const std::string& text) {
    std::string out = first_bytes(valid_utf8(text), max_name_bytes);
    for (char& c : out)
        if (c == '\n' || c == '\r' || c == '\t' || c == '\0') c = ' ';
    while (!out.empty() && out.front() == ' ') out.erase(0, 1);
    while (!out.empty() && out.back() == ' ') out.pop_back();
    return out;
}

std::string free_text(const std::string& text) {
    std::string out = valid_utf8(text);
    // Shorter than it must be, as it was always kept: a calibration is found again by its text.
    if (out.size() > max_text_bytes) out = first_bytes(out, 3990);
    for (char& c : out)
        if (c == '\0') c = ' ';
    return out;
}

std::string contacts_text(const calib::Gauge& gauge) {
    std::string out;
    for (const calib::Contact& contact : gauge.contacts)
        out += std::string(out.empty() ? "" : ",") + (contact.normally_closed ? "NC" : "NO");
    return out;
}

Id customer_of(Writer& writer, const Record& record) {
    const std::string name = name_text(record.customer.name);
    if (name.empty()) return 0;
    if (const Id known = find_customer(writer.database, name); known != 0) return known;
    return put_customer_row(writer, {0, name, free_text(record.customer.address),
                                     free_text(record.customer.contact), std::nullopt});
}

Id station_of(Writer& writer, const Record& record, Id customer) {
    const std::string name = name_text(record.identity.station);
    if (name.empty() || customer == 0) return 0;
    const Id known = find_station(writer.database, customer, name);
    return known != 0 ? known : put_station_row(writer, {0, customer, name, ""});
}

std::string millimetres(double value, double u) {
    const calib::RoundedPair rounded = calib::round_with_uncertainty(value, 2 * u);
    return rounded.value + " mm (U = " + rounded.uncertainty + " mm)";
}

// Every intensity rests on the rim. Two determinations of one rim agree within the expanded uncertainty of
// their difference (|E_n| <= 1, calib/decision/comparison.hpp); what the register has without an uncertainty
// is taken to be as good as the record's.
void check_rim(const GaugeEntry& gauge, const Record& record) {
    if (!gauge.catch_diameter_mm) return;
    const calib::Uncertain& recorded = record.gauge.catch_diameter_mm;
    const double known_u = gauge.catch_diameter_u_mm.value_or(recorded.u);
    const double difference = std::abs(recorded.value - *gauge.catch_diameter_mm);
    if (difference <= 2 * std::hypot(recorded.u, known_u)) return;
    stop(FaultCode::inconsistent,
         "the register knows gauge " + in_quotes(gauge.serial) + " with a catch diameter of " +
             millimetres(*gauge.catch_diameter_mm, known_u) + ", not " +
             millimetres(recorded.value, recorded.u),
         "catch_diameter_mm",
         "measure the rim and correct whichever is wrong; the register by: tipwright register gauge change " +
             gauge.serial);
}

// What a record says of a gauge that the register knows.
void check_as_known(const GaugeEntry& gauge, const Record& record) {
    // A table of another laboratory names no kind: the register knows it.
    if (!record.identity.kind.empty() && gauge.kind != name_text(record.identity.kind))
        stop(FaultCode::inconsistent,
             "the register knows gauge " + in_quotes(gauge.serial) + " as kind " + in_quotes(gauge.kind) +
                 ", not " + in_quotes(record.identity.kind),
             "kind", "correct whichever is wrong");
    if (gauge.nominal_tip_mm && *gauge.nominal_tip_mm != record.gauge.nominal_tip_mm)
        stop(FaultCode::inconsistent,
             "the register knows gauge " + in_quotes(gauge.serial) + " with another nominal tip than " +
                 std::to_string(record.gauge.nominal_tip_mm) + " mm",
             "nominal_tip_mm", "correct whichever is wrong");
    check_rim(gauge, record);
}

Id gauge_of(Writer& writer, const Record& record) {
    const std::string serial = name_text(record.identity.serial);
    const std::string model = name_text(record.identity.model);
    if (serial.empty())
        stop(FaultCode::missing_field,
             "the record names no serial: without it a gauge cannot be identified again", "serial");
    if (model.empty()) stop(FaultCode::missing_field, "the record names no model", "model");
    const std::optional<GaugeEntry> known = find_gauge(writer.database, serial, model);
    if (!known) {
        GaugeEntry gauge;
        gauge.serial = serial;
        gauge.model = model;
        // A table of another laboratory may name none: then what it calls it.
        const std::string& kind =
            record.identity.kind.empty() ? record.identity.kind_title : record.identity.kind;
        gauge.kind = name_text(kind);
        gauge.nominal_tip_mm = record.gauge.nominal_tip_mm;
        gauge.catch_diameter_mm = record.gauge.catch_diameter_mm.value;
        gauge.catch_diameter_u_mm = record.gauge.catch_diameter_mm.u;
        gauge.catch_method = free_text(record.identity.catch_diameter_method);
        gauge.contacts = contacts_text(record.gauge);
        gauge.customer = customer_of(writer, record);
        gauge.station = station_of(writer, record, gauge.customer);
        return put_gauge_row(writer, gauge, false);
    }
    check_as_known(*known, record);
    return known->id;
}

Id run_of(Writer& writer, const Record& record, Id gauge, const std::string& bench) {
    if (record.source_sha256.size() != 64 || !seal::from_hex(record.source_sha256))
        stop(FaultCode::missing_field, "the record does not name its source by SHA-256", "source_sha256");
    StoredRun run;
    run.gauge = gauge;
    run.bench = bench;
    run.source_name = name_text(record.source_name);
    run.source_sha256 = kept_digest(record.source_sha256);
    run.operator_name = name_text(record.operator_name);
    run.started_at = record.started_at;
    run.ended_at = record.ended_at;
    const auto known = row_where<StoredRun>(writer.database, "t.gauge_id = :p1 AND t.source_sha256 = :p2",
                                            {gauge, run.source_sha256});
    return known ? known->id : writer.put(run);
}

}  // namespace

std::string calibrated_on(const Record& record) {
    for (const std::string& time : {record.ended_at, record.started_at})
        if (time.size() >= 10 && is_iso_date(time.substr(0, 10))) return time.substr(0, 10);
    stop(FaultCode::missing_field, "the record does not say when it was measured", "ended_at");
}

InstrumentEntry instrument_of(const InstrumentUsed& used, const std::string& bench) {
    return {0, name_text(used.role), free_text(used.description), name_text(used.serial), bench};
}

Id calibration_of(Writer& writer, const InstrumentUsed& used, const std::string& bench) {
    const InstrumentEntry instrument = instrument_of(used, bench);
    const Id known = find_instrument(writer.database, instrument);
    must_be_as_logged<InstrumentEntry>(writer.database, known);
    const Id id = known != 0 ? known : put_instrument_row(writer, instrument);
    InstrumentCalibration calibration;
    calibration.instrument = id;
    calibration.certificate = name_text(used.certificate);
    calibration.calibrated_on = is_iso_date(used.calibrated_on) ? used.calibrated_on : "";
    calibration.due_on = is_iso_date(used.due_on) ? used.due_on : "";
    calibration.traceability = free_text(used.traceability);
    const Id done = find_calibration(writer.database, calibration);
    must_be_as_logged<InstrumentCalibration>(writer.database, done);
    return done != 0 ? done : put_calibration_row(writer, calibration);
}

Result<Id> Register::enter_record(const Actor& actor, const Record& record, const std::string& bench) {
    return written(*impl_, actor, Permission::measure, [&](Writer& writer) {
        check_name("bench", bench);
        const std::string day = calibrated_on(record);
        if (day > date_of(actor.now) && day > date_of_day(day_number(date_of(actor.now)) + 1))
            stop(FaultCode::inconsistent,
                 "the record was measured on " + day + ", today is " + date_of(actor.now), "clock",
                 "set the clock");
        const Id gauge = gauge_of(writer, record);
        const Id run = run_of(writer, record, gauge, bench);
        for (const InstrumentUsed& used : record.instruments) calibration_of(writer, used, bench);
        const std::string json = record_to_json(record);
        StoredRecord row;
        row.run = run;
        row.person = writer.person;
        row.entered_at = actor.now;
        row.state = record.state;
        row.complete = record.completeness == Completeness::complete;
        row.verdict = record.evaluation.conformity.overall;
        row.sha256 = kept_digest(sha256_hex(json));
        Record judged = record;
        state(judged);
        row.points = curve_text(kept_curve(judged));
        if (const auto same = row_where<StoredRecord>(writer.database, "t.run_id = :p1 AND t.sha256 = :p2",
                                                      {run, row.sha256}))
            return same->id;  // the same evaluation of the same run
        impl_->documents->put(json);
        return writer.put(row);
    });
}

Outcome Register::check_run(const Record& planned, const std::string& bench, const std::string& day) {
    const auto checked = snapshot(*impl_, [&] {
        Database& database = *impl_->database;
        if (const auto known =
                find_gauge(database, name_text(planned.identity.serial), name_text(planned.identity.model)))
            check_as_known(*known, planned);
        RecordRow row;
        row.bench = bench;
        row.calibrated_on = day;
        rests_on_sound_instruments(database, planned, row, "bench");
        return Done{};
    });
    if (!checked) return checked.fault();
    return Done{};
}

}  // namespace tipwright::report
