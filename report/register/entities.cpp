// People, customers, stations, gauges, instruments and their calibrations: entering and changing.
#include <algorithm>

#include "report/register/dates.hpp"
#include "report/register/detail.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

Cell months(const std::optional<AgreedInterval>& interval) {
    return interval ? Cell(std::int64_t{interval->months}) : Cell();
}

std::string agreed(const std::optional<AgreedInterval>& interval) {
    return interval ? interval->agreed : std::string();
}

std::optional<AgreedInterval> interval(const Row& row, std::size_t at) {
    if (row.null(at)) return std::nullopt;
    return AgreedInterval{static_cast<int>(row.integer(at)), row.text(at + 1)};
}

void must_exist(Database& database, const std::string& table, Id id, const char* what) {
    if (!database.row("SELECT id FROM " + table + " WHERE id = :p1", "i", {id}))
        stop(FaultCode::unknown_field, "the register has no " + std::string(what) + " " + std::to_string(id),
             what);
}

// Enters a row, or changes the one with that id. `columns` and `values` in step.
Id put_row(Database& database, const std::string& table, Id id, const std::vector<std::string>& columns,
           std::vector<Cell> values) {
    std::string sql;
    if (id == 0) {
        std::string names;
        std::string places;
        for (std::size_t i = 0; i < columns.size(); ++i) {
            names += (i > 0 ? ", " : "") + columns[i];
            places += (i > 0 ? ", :p" : ":p") + std::to_string(i + 1);
        }
        return database.insert(
            "INSERT INTO " + table + " (" + names + ") VALUES (" + places + ") RETURNING id",
            std::move(values));
    }
    for (std::size_t i = 0; i < columns.size(); ++i)
        sql += (i > 0 ? ", " : "") + columns[i] + " = :p" + std::to_string(i + 1);
    values.emplace_back(id);
    sql = "UPDATE " + table + " SET " + sql + " WHERE id = :p" + std::to_string(values.size());
    database.run(sql, std::move(values));
    return id;
}

std::string instrument_identity(const InstrumentEntry& instrument) {
    return key_of(instrument.role) + "|" +
           (instrument.serial.empty() ? "?" + key_of(instrument.description) : key_of(instrument.serial));
}

void refuse_double(Database& database, const std::string& table, const std::string& column,
                   const std::string& value, Id id, const char* what) {
    const std::optional<Row> found = database.row(
        "SELECT id FROM " + table + " WHERE " + column + " = :p1 AND id <> :p2", "i", {value, id});
    if (found)
        stop(FaultCode::duplicate,
             "the register has " + std::string(what) + " " + in_quotes(value) + " already", what);
}

constexpr const char* gauge_columns =
    "g.id, g.serial, g.model, g.kind, g.nominal_tip_mm, g.catch_diameter_mm, g.catch_diameter_u_mm, "
    "g.catch_method, "
    "g.contacts, g.customer_id, g.station_id, g.in_service_on, g.interval_months, g.interval_agreed, g.note, "
    "g.last_calibrated_on, g.due_on";
constexpr const char* gauge_types = "itttrrrttiititttt";

GaugeEntry gauge_from(const Row& row) {
    GaugeEntry out;
    out.id = row.integer(0);
    out.serial = row.text(1);
    out.model = row.text(2);
    out.kind = row.text(3);
    out.nominal_tip_mm = row.maybe_real(4);
    out.catch_diameter_mm = row.maybe_real(5);
    out.catch_diameter_u_mm = row.maybe_real(6);
    out.catch_method = row.text(7);
    out.contacts = row.text(8);
    out.customer = row.integer(9);
    out.station = row.integer(10);
    out.in_service_on = row.text(11);
    out.interval = interval(row, 12);
    out.note = row.text(14);
    out.last_calibrated_on = row.text(15);
    out.due_on = row.text(16);
    return out;
}

Cell reference(Id id) {
    return id == 0 ? Cell() : Cell(id);
}

void check_gauge(Database& database, const GaugeEntry& gauge) {
    check_name("serial", gauge.serial);
    check_name("model", gauge.model);
    check_name("kind", gauge.kind);
    check_range("nominal_tip_mm", gauge.nominal_tip_mm, 0.01, 2);
    check_range("catch_diameter_mm", gauge.catch_diameter_mm, 50, 700);
    check_range("catch_diameter_u_mm", gauge.catch_diameter_u_mm, 0, 10);
    check_text("catch_method", gauge.catch_method);
    check_text("contacts", gauge.contacts);
    check_date("in_service_on", gauge.in_service_on);
    check_interval(gauge.interval);
    check_text("note", gauge.note);
    if (gauge.customer != 0) must_exist(database, "customers", gauge.customer, "customer");
    if (gauge.station != 0) {
        must_exist(database, "stations", gauge.station, "station");
        const Id owner =
            database.row("SELECT customer_id FROM stations WHERE id = :p1", "i", {gauge.station})->integer(0);
        if (owner != gauge.customer)
            stop(FaultCode::inconsistent, "the station belongs to another customer than the gauge",
                 "station");
    }
}

}  // namespace

GaugeEntry read_gauge(Database& database, Id id) {
    const std::optional<Row> row = database.row(
        std::string("SELECT ") + gauge_columns + " FROM gauges g WHERE g.id = :p1", gauge_types, {id});
    if (!row) stop(FaultCode::unknown_field, "the register has no gauge " + std::to_string(id), "gauge");
    return gauge_from(*row);
}

void each_gauge(Database& database, const std::function<void(const GaugeEntry&)>& take) {
    constexpr std::int64_t page = 5000;
    for (Id after = 0;;) {
        const std::vector<Row> rows =
            database.rows(std::string("SELECT ") + gauge_columns +
                              " FROM gauges g WHERE g.id > :p1 ORDER BY g.id LIMIT :p2",
                          gauge_types, {after, page});
        for (const Row& row : rows) take(gauge_from(row));
        if (rows.size() < static_cast<std::size_t>(page)) return;
        after = rows.back().integer(0);
    }
}

Id find_customer(Database& database, const std::string& name) {
    const std::optional<Row> row = database.row("SELECT id FROM customers WHERE name = :p1", "i", {name});
    return row ? row->integer(0) : 0;
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
    Database& database = writer.database;
    check_name("name", customer.name);
    check_text("address", customer.address);
    check_text("contact", customer.contact);
    check_interval(customer.interval);
    refuse_double(database, "customers", "name", customer.name, customer.id, "customer");
    if (customer.id != 0) must_exist(database, "customers", customer.id, "customer");
    const Id id = put_row(database, "customers", customer.id,
                          {"name", "address", "contact", "interval_months", "interval_agreed"},
                          {customer.name, customer.address, customer.contact, months(customer.interval),
                           agreed(customer.interval)});
    if (customer.id != 0)
        for (const Row& row : database.rows("SELECT id FROM gauges WHERE customer_id = :p1", "i", {id}))
            refresh_due(database, row.integer(0));
    writer.log(customer.id == 0 ? "enter" : "change", "customer", id, detail_of(customer));
    return id;
}

Id put_station_row(Writer& writer, const Station& station) {
    Database& database = writer.database;
    check_name("name", station.name);
    check_text("place", station.place);
    must_exist(database, "customers", station.customer, "customer");
    if (station.id != 0) must_exist(database, "stations", station.id, "station");
    if (database.row("SELECT id FROM stations WHERE customer_id = :p1 AND name = :p2 AND id <> :p3", "i",
                     {station.customer, station.name, station.id}))
        stop(FaultCode::duplicate, "this customer has a station " + in_quotes(station.name) + " already",
             "station");
    const Id id = put_row(database, "stations", station.id, {"customer_id", "name", "place"},
                          {station.customer, station.name, station.place});
    writer.log(station.id == 0 ? "enter" : "change", "station", id, detail_of(station));
    return id;
}

Id put_gauge_row(Writer& writer, const GaugeEntry& gauge, bool other_model_meant) {
    Database& database = writer.database;
    check_gauge(database, gauge);
    const std::string serial = key_of(gauge.serial);
    const std::string model = key_of(gauge.model);
    if (gauge.id != 0) {
        const GaugeEntry before = read_gauge(database, gauge.id);
        // What stood beside another model before was meant then.
        other_model_meant =
            other_model_meant || (key_of(before.serial) == serial && key_of(before.model) == model);
    }
    for (const Row& row :
         database.rows("SELECT model, model_key FROM gauges WHERE serial_key = :p1 AND id <> :p2", "tt",
                       {serial, gauge.id})) {
        if (row.text(1) == model)
            stop(FaultCode::duplicate,
                 "the register has a gauge " + in_quotes(gauge.serial) + " of model " +
                     in_quotes(gauge.model) + " already",
                 "serial");
        if (!other_model_meant)
            stop(FaultCode::duplicate,
                 "the register has serial " + in_quotes(gauge.serial) + " already, as model " +
                     in_quotes(row.text(0)),
                 "serial", "correct the model, or say that another gauge is meant");
    }
    const Id id =
        put_row(database, "gauges", gauge.id,
                {"serial", "serial_key", "model", "model_key", "kind", "nominal_tip_mm", "catch_diameter_mm",
                 "catch_diameter_u_mm", "catch_method", "contacts", "customer_id", "station_id",
                 "in_service_on", "interval_months", "interval_agreed", "note"},
                {gauge.serial, serial, gauge.model, model, gauge.kind, nullable(gauge.nominal_tip_mm),
                 nullable(gauge.catch_diameter_mm), nullable(gauge.catch_diameter_u_mm), gauge.catch_method,
                 gauge.contacts, reference(gauge.customer), reference(gauge.station), gauge.in_service_on,
                 months(gauge.interval), agreed(gauge.interval), gauge.note});
    if (gauge.id != 0) refresh_due(database, id);
    writer.log(gauge.id == 0 ? "enter" : "change", "gauge", id, detail_of(gauge));
    return id;
}

Id put_instrument_row(Writer& writer, const InstrumentEntry& instrument) {
    Database& database = writer.database;
    check_name("role", instrument.role);
    check_text("description", instrument.description);
    check_text("serial", instrument.serial);
    check_text("bench", instrument.bench);
    if (instrument.serial.empty() && instrument.description.empty())
        stop(FaultCode::missing_field, "neither serial nor description given", "instrument");
    if (instrument.id != 0) must_exist(database, "instruments", instrument.id, "instrument");
    const std::string identity = instrument_identity(instrument);
    refuse_double(database, "instruments", "identity", identity, instrument.id, "instrument");
    const Id id = put_row(
        database, "instruments", instrument.id, {"identity", "role", "description", "serial", "bench"},
        {identity, instrument.role, instrument.description, instrument.serial, instrument.bench});
    writer.log(instrument.id == 0 ? "enter" : "change", "instrument", id, detail_of(instrument));
    return id;
}

Id put_calibration_row(Writer& writer, const InstrumentCalibration& calibration) {
    Database& database = writer.database;
    must_exist(database, "instruments", calibration.instrument, "instrument");
    check_text("certificate", calibration.certificate);
    check_date("calibrated_on", calibration.calibrated_on);
    check_date("due_on", calibration.due_on);
    check_text("traceability", calibration.traceability);
    if (calibration.id != 0) must_exist(database, "calibrations", calibration.id, "calibration");
    if (database.row(
            "SELECT id FROM calibrations WHERE instrument_id = :p1 AND certificate = :p2 AND calibrated_on = "
            ":p3 "
            "AND id <> :p4",
            "i",
            {calibration.instrument, calibration.certificate, calibration.calibrated_on, calibration.id}))
        stop(FaultCode::duplicate, "this calibration of the instrument is in the register already",
             "calibration");
    const Id id = put_row(database, "calibrations", calibration.id,
                          {"instrument_id", "certificate", "calibrated_on", "due_on", "traceability"},
                          {calibration.instrument, calibration.certificate, calibration.calibrated_on,
                           calibration.due_on, calibration.traceability});
    writer.log(calibration.id == 0 ? "enter" : "change", "calibration", id, detail_of(calibration));
    return id;
}

Result<Id> Register::put_person(const Actor& actor, const Person& person) {
    return written(*impl_, actor, Permission::enter_first_person, [&](Writer& writer) {
        check_name("name", person.name);
        Person given = person;
        if (writer.person == 0) {  // the first one
            if (given.name != actor.person)
                stop(FaultCode::not_permitted, "the first person of a register enters themselves", "person");
            given.may_issue = true;
        }
        refuse_double(writer.database, "people", "name", given.name, given.id, "person");
        if (given.id != 0) must_exist(writer.database, "people", given.id, "person");
        const bool last_issuer =
            given.id != 0 && (!given.may_issue || !given.active) &&
            !writer.database.row("SELECT id FROM people WHERE may_issue = 1 AND active = 1 AND id <> :p1",
                                 "i", {given.id});
        if (last_issuer) stop(FaultCode::not_permitted, "nobody would be left who may issue", "person");
        const auto bit = [](bool value) { return std::int64_t{value ? 1 : 0}; };
        const Id id = put_row(writer.database, "people", given.id,
                              {"name", "may_measure", "may_check", "may_issue", "active"},
                              {given.name, bit(given.may_measure), bit(given.may_check), bit(given.may_issue),
                               bit(given.active)});
        writer.log(given.id == 0 ? "enter" : "change", "person", id, detail_of(given));
        return id;
    });
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
    return written(*impl_, actor, Permission::any,
                   [&](Writer& writer) { return put_calibration_row(writer, calibration); });
}

Result<std::vector<Person>> Register::people() {
    return answered([&] {
        std::vector<Person> out;
        impl_->database->each(
            "SELECT id, name, may_measure, may_check, may_issue, active FROM people ORDER BY name", "itiiii",
            {}, [&](const Row& row) {
                out.push_back({row.integer(0), row.text(1), row.integer(2) != 0, row.integer(3) != 0,
                               row.integer(4) != 0, row.integer(5) != 0});
            });
        return out;
    });
}

namespace {

Customer read_customer(Database& database, const std::string& condition, Cell cell, const std::string& name) {
    const std::optional<Row> row = database.row(
        "SELECT id, name, address, contact, interval_months, interval_agreed FROM customers WHERE " +
            condition,
        "itttit", {std::move(cell)});
    if (!row) stop(FaultCode::unknown_field, "the register has no customer " + name, "customer");
    return Customer{row->integer(0), row->text(1), row->text(2), row->text(3), interval(*row, 4)};
}

}  // namespace

Result<Customer> Register::customer(const std::string& name) {
    return answered([&] { return read_customer(*impl_->database, "name = :p1", name, in_quotes(name)); });
}

Result<Customer> Register::customer(Id id) {
    return answered([&] { return read_customer(*impl_->database, "id = :p1", id, std::to_string(id)); });
}

Result<Station> Register::station(Id customer, const std::string& name) {
    return answered([&] {
        const std::optional<Row> row = impl_->database->row(
            "SELECT id, customer_id, name, place FROM stations WHERE customer_id = :p1 AND name = :p2",
            "iitt", {customer, name});
        if (!row)
            stop(FaultCode::unknown_field, "this customer has no station " + in_quotes(name), "station");
        return Station{row->integer(0), row->integer(1), row->text(2), row->text(3)};
    });
}

Result<Station> Register::station(Id id) {
    return answered([&] {
        const std::optional<Row> row = impl_->database->row(
            "SELECT id, customer_id, name, place FROM stations WHERE id = :p1", "iitt", {id});
        if (!row)
            stop(FaultCode::unknown_field, "the register has no station " + std::to_string(id), "station");
        return Station{row->integer(0), row->integer(1), row->text(2), row->text(3)};
    });
}

Result<GaugeEntry> Register::gauge(Id id) {
    return answered([&] { return read_gauge(*impl_->database, id); });
}

Result<std::vector<GaugeEntry>> Register::gauges_with_serial(const std::string& serial) {
    return answered([&] {
        std::vector<GaugeEntry> out;
        impl_->database->each(std::string("SELECT ") + gauge_columns +
                                  " FROM gauges g WHERE g.serial_key = :p1 ORDER BY g.model_key",
                              gauge_types, {key_of(serial)},
                              [&](const Row& row) { out.push_back(gauge_from(row)); });
        return out;
    });
}

Result<std::vector<InstrumentEntry>> Register::instruments_with_serial(const std::string& serial) {
    return answered([&] {
        std::vector<InstrumentEntry> out;
        impl_->database->each(
            "SELECT id, role, description, serial, bench FROM instruments ORDER BY id", "itttt", {},
            [&](const Row& row) {
                if (key_of(row.text(3)) == key_of(serial))
                    out.push_back({row.integer(0), row.text(1), row.text(2), row.text(3), row.text(4)});
            });
        return out;
    });
}

}  // namespace tipwright::report
