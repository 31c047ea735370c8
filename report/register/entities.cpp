// People, customers, stations, gauges, instruments and their calibrations: entering and changing.
#include <algorithm>

#include "report/register/dates.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

void refuse_double(Id found, Id own, const char* subject, const std::string& what) {
    if (found != 0 && found != own)
        stop(FaultCode::duplicate, "the register has " + what + " already", subject);
}

template <class T>
Id id_where(Database& database, const std::string& condition, const std::vector<Cell>& cells) {
    const std::optional<Row> row =
        database.row("SELECT id FROM " + shape_of<T>().name + " WHERE " + condition, "i", cells);
    return row ? row->integer(0) : 0;
}

}  // namespace

Id find_customer(Database& database, const std::string& name) {
    return id_where<Customer>(database, "name = :p1", {name});
}

Id find_station(Database& database, Id customer, const std::string& name) {
    return id_where<Station>(database, "customer_id = :p1 AND name = :p2", {customer, name});
}

std::optional<GaugeEntry> find_gauge(Database& database, const std::string& serial,
                                     const std::string& model) {
    return row_where<GaugeEntry>(database, "t.serial_key = :p1 AND t.model_key = :p2",
                                 {key_of(serial), key_of(model)});
}

Id find_instrument(Database& database, const InstrumentEntry& instrument) {
    return id_where<InstrumentEntry>(
        database, "identity = :p1",
        {instrument_key(instrument.role, instrument.description, instrument.serial)});
}

Id find_calibration(Database& database, const InstrumentCalibration& calibration) {
    return id_where<InstrumentCalibration>(
        database, "instrument_id = :p1 AND certificate = :p2 AND calibrated_on = :p3",
        {calibration.instrument, calibration.certificate, calibration.calibrated_on});
}

void refresh_due(Database& database, Id gauge) {
    const std::optional<Row> row = database.row(
        "SELECT g.last_calibrated_on, coalesce(g.interval_months, c.interval_months) FROM gauges g "
        "LEFT JOIN customers c ON c.id = g.customer_id WHERE g.id = :p1",
        "ti", {gauge});
    if (!row) return;
    const bool known = !row->null(0) && !row->null(1);
    database.run("UPDATE gauges SET due_on = :p1 WHERE id = :p2",
                 {known ? Cell(add_months(row->text(0), static_cast<int>(row->integer(1)))) : Cell(), gauge});
}

Id put_customer_row(Writer& writer, const Customer& customer) {
    refuse_double(find_customer(writer.database, customer.name), customer.id, "customer",
                  "customer " + in_quotes(customer.name));
    const Id id = writer.put(customer);
    if (customer.id != 0)
        for (const Row& row :
             writer.database.rows("SELECT id FROM gauges WHERE customer_id = :p1", "i", {id}))
            refresh_due(writer.database, row.integer(0));
    return id;
}

Id put_station_row(Writer& writer, const Station& station) {
    row_with_id<Customer>(writer.database, station.customer);
    refuse_double(find_station(writer.database, station.customer, station.name), station.id, "station",
                  "this customer's station " + in_quotes(station.name));
    return writer.put(station);
}

Id put_gauge_row(Writer& writer, const GaugeEntry& gauge, bool other_model_meant) {
    Database& database = writer.database;
    check_values(gauge);
    std::optional<GaugeEntry> before;
    if (gauge.id != 0) before = row_with_id<GaugeEntry>(database, gauge.id);
    // What an earlier version took stays as it is when another field is changed.
    if (!before || before->in_service_on != gauge.in_service_on)
        check_past("in_service_on", gauge.in_service_on, writer.actor.now, false);
    if (gauge.customer != 0) row_with_id<Customer>(database, gauge.customer);
    if (gauge.station != 0 && row_with_id<Station>(database, gauge.station).customer != gauge.customer)
        stop(FaultCode::inconsistent, "the station belongs to another customer than the gauge", "station");
    const std::string serial = key_of(gauge.serial);
    const std::string model = key_of(gauge.model);
    // What stood beside another model before was meant then.
    if (before)
        other_model_meant =
            other_model_meant || (key_of(before->serial) == serial && key_of(before->model) == model);
    for (const GaugeEntry& other :
         rows_where<GaugeEntry>(database, "WHERE t.serial_key = :p1 AND t.id <> :p2", {serial, gauge.id})) {
        if (key_of(other.model) == model)
            stop(FaultCode::duplicate,
                 "the register has a gauge " + in_quotes(gauge.serial) + " of model " +
                     in_quotes(gauge.model) + " already",
                 "serial");
        if (!other_model_meant)
            stop(FaultCode::duplicate,
                 "the register has serial " + in_quotes(gauge.serial) + " already, as model " +
                     in_quotes(other.model),
                 "serial", "correct the model, or say that another gauge is meant");
    }
    const Id id = writer.put(gauge);
    if (gauge.id != 0) refresh_due(database, id);
    return id;
}

Id put_instrument_row(Writer& writer, const InstrumentEntry& instrument) {
    if (instrument.serial.empty() && instrument.description.empty())
        stop(FaultCode::missing_field, "neither serial nor description given", "instrument");
    refuse_double(find_instrument(writer.database, instrument), instrument.id, "instrument",
                  "this instrument, " + in_quotes(instrument.role + " " + instrument.serial) + ",");
    return writer.put(instrument);
}

Id put_calibration_row(Writer& writer, const InstrumentCalibration& calibration) {
    row_with_id<InstrumentEntry>(writer.database, calibration.instrument);
    refuse_double(find_calibration(writer.database, calibration), calibration.id, "calibration",
                  "this calibration of the instrument");
    return writer.put(calibration);
}

Result<Id> Register::put_customer(const Actor& actor, const Customer& customer) {
    return written(*impl_, actor, Permission::any,
                   [&](Writer& writer) { return put_customer_row(writer, customer); });
}

Result<Id> Register::put_station(const Actor& actor, const Station& station) {
    return written(*impl_, actor, Permission::any,
                   [&](Writer& writer) { return put_station_row(writer, station); });
}

Result<Id> Register::put_gauge(const Actor& actor, const GaugeEntry& gauge, bool other_model_meant) {
    return written(*impl_, actor, Permission::any,
                   [&](Writer& writer) { return put_gauge_row(writer, gauge, other_model_meant); });
}

Result<Id> Register::put_instrument(const Actor& actor, const InstrumentEntry& instrument) {
    return written(*impl_, actor, Permission::any,
                   [&](Writer& writer) { return put_instrument_row(writer, instrument); });
}

Result<Id> Register::put_calibration(const Actor& actor, const InstrumentCalibration& calibration) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        check_past("calibrated_on", calibration.calibrated_on, actor.now, false);
        return put_calibration_row(writer, calibration);
    });
}

namespace {

template <class T>
T found_or_stop(std::optional<T> found, const std::string& what) {
    if (!found)
        stop(FaultCode::unknown_field, "the register has no " + what, std::string(table_of<T>.subject));
    return std::move(*found);
}

}  // namespace

Result<Customer> Register::customer(const std::string& name) {
    return answered([&] {
        return found_or_stop(row_where<Customer>(*impl_->database, "t.name = :p1", {name}),
                             "customer " + in_quotes(name));
    });
}

Result<Customer> Register::customer(Id id) {
    return answered([&] { return row_with_id<Customer>(*impl_->database, id); });
}

Result<Station> Register::station(Id customer, const std::string& name) {
    return answered([&] {
        return found_or_stop(
            row_where<Station>(*impl_->database, "t.customer_id = :p1 AND t.name = :p2", {customer, name}),
            "station " + in_quotes(name) + " of this customer");
    });
}

Result<Station> Register::station(Id id) {
    return answered([&] { return row_with_id<Station>(*impl_->database, id); });
}

Result<GaugeEntry> Register::gauge(Id id) {
    return answered([&] { return row_with_id<GaugeEntry>(*impl_->database, id); });
}

Result<std::vector<GaugeEntry>> Register::gauges_with_serial(const std::string& serial) {
    return answered([&] {
        return rows_where<GaugeEntry>(*impl_->database, "WHERE t.serial_key = :p1 ORDER BY t.model_key",
                                      {key_of(serial)});
    });
}

Result<std::vector<InstrumentEntry>> Register::instruments_with_serial(const std::string& serial) {
    return answered([&] {
        auto out = rows_where<InstrumentEntry>(*impl_->database, "ORDER BY t.id");
        std::erase_if(out, [&](const auto& one) { return key_of(one.serial) != key_of(serial); });
        return out;
    });
}

}  // namespace tipwright::report
