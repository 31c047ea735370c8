// Importing a list of gauges from CSV. Columns, in any order, the first three needed:
//   serial, model, kind, nominal_tip_mm, catch_diameter_mm, catch_diameter_u_mm, catch_method, contacts,
//   customer, station, in_service_on, interval_months, interval_agreed, note
// A gauge that is there already (same serial and model) is changed where a field is given and differs.
// Customers and stations that are new are entered by name. All lines are looked at; one bad line and nothing
// is imported.
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "calib/base/csv.hpp"
#include "report/files/inert_text.hpp"
#include "report/register/detail.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t max_faults = 50;
constexpr std::array<std::string_view, 14> known_columns{
    "serial",          "model",    "kind",     "nominal_tip_mm", "catch_diameter_mm", "catch_diameter_u_mm",
    "catch_method",    "contacts", "customer", "station",        "in_service_on",     "interval_months",
    "interval_agreed", "note"};

// One line by the names of its columns.
class Line {
public:
    Line(const CsvRow& line, const CsvRow& heading, const std::string& name, char separator)
        : line_(line), heading_(heading), name_(name), separator_(separator) {}

    std::string text(std::string_view column) const {
        const CsvField* field = find(column);
        if (field == nullptr) return {};
        const std::size_t first = field->text.find_first_not_of(' ');
        if (first == std::string::npos) return {};
        return from_inert(field->text.substr(first, field->text.find_last_not_of(' ') - first + 1));
    }

    std::optional<double> number(std::string_view column) const {
        const std::string given = text(column);
        if (given.empty()) return std::nullopt;
        const std::string plain = with_decimal_point(given, separator_);
        const char* end = plain.data() + plain.size();
        double out = 0;
        if (const auto [stopped, error] = std::from_chars(plain.data(), end, out);
            error != std::errc{} || stopped != end || !std::isfinite(out))
            stop(FaultCode::bad_value, in_quotes(given) + " is not a number", std::string(column));
        return out;
    }

    // file:line:column of a field named in a fault.
    std::string place(const std::string& column) const {
        const CsvField* field = find(column);
        return field != nullptr ? where(name_, field->at)
                                : name_ + ":" + std::to_string(line_.fields.front().at.line);
    }

private:
    const CsvField* find(std::string_view column) const {
        for (std::size_t i = 0; i < heading_.fields.size() && i < line_.fields.size(); ++i)
            if (heading_.fields[i].text == column) return &line_.fields[i];
        return nullptr;
    }

    const CsvRow& line_;
    const CsvRow& heading_;
    const std::string& name_;
    char separator_;
};

void check_heading(const CsvRow& heading, const std::string& name, std::vector<Fault>& faults) {
    std::vector<std::string> seen;
    for (const CsvField& field : heading.fields) {
        const std::string where = tipwright::where(name, field.at);
        if (std::find(known_columns.begin(), known_columns.end(), field.text) == known_columns.end())
            faults.push_back(
                {FaultCode::unknown_field, "no column is called " + in_quotes(field.text), where, ""});
        else if (std::find(seen.begin(), seen.end(), field.text) != seen.end())
            faults.push_back(
                {FaultCode::duplicate, "column " + in_quotes(field.text) + " stands here twice", where, ""});
        seen.push_back(field.text);
    }
    for (const char* needed : {"serial", "model", "kind"})
        if (std::find(seen.begin(), seen.end(), needed) == seen.end())
            faults.push_back(
                {FaultCode::missing_field, "there is no column " + in_quotes(needed), name + ":1", ""});
}

Id customer_named(Writer& writer, const std::string& name) {
    if (name.empty()) return 0;
    const Id known = find_customer(writer.database, name);
    return known != 0 ? known : put_customer_row(writer, {0, name, "", "", std::nullopt});
}

Id station_named(Writer& writer, Id customer, const std::string& name) {
    if (name.empty()) return 0;
    if (customer == 0) stop(FaultCode::missing_field, "a station needs its customer", "customer");
    const std::optional<Row> known = writer.database.row(
        "SELECT id FROM stations WHERE customer_id = :p1 AND name = :p2", "i", {customer, name});
    return known ? known->integer(0) : put_station_row(writer, {0, customer, name, ""});
}

void take_interval(const Line& line, GaugeEntry& gauge) {
    const std::optional<double> months = line.number("interval_months");
    if (!months) return;
    if (!(*months >= 1 && *months <= 240) || std::floor(*months) != *months)
        stop(FaultCode::bad_value, line.text("interval_months") + " must be whole months, 1 to 240",
             "interval_months");
    gauge.interval = AgreedInterval{static_cast<int>(*months), line.text("interval_agreed")};
}

void take_line(Writer& writer, const Line& line, ImportReport& report) {
    GaugeEntry gauge;
    gauge.serial = line.text("serial");
    gauge.model = line.text("model");
    check_name("serial", gauge.serial);
    check_name("model", gauge.model);
    const std::optional<Row> known =
        writer.database.row("SELECT id FROM gauges WHERE serial_key = :p1 AND model_key = :p2", "i",
                            {key_of(gauge.serial), key_of(gauge.model)});
    if (known) gauge = read_gauge(writer.database, known->integer(0));
    const std::string before = detail_of(gauge);
    const auto take = [&](const char* column, std::string& value) {
        if (std::string given = line.text(column); !given.empty()) value = std::move(given);
    };
    const auto take_number = [&](const char* column, std::optional<double>& value) {
        if (const std::optional<double> given = line.number(column)) value = given;
    };
    take("kind", gauge.kind);
    take("catch_method", gauge.catch_method);
    take("contacts", gauge.contacts);
    take("in_service_on", gauge.in_service_on);
    take("note", gauge.note);
    take_number("nominal_tip_mm", gauge.nominal_tip_mm);
    take_number("catch_diameter_mm", gauge.catch_diameter_mm);
    take_number("catch_diameter_u_mm", gauge.catch_diameter_u_mm);
    take_interval(line, gauge);
    if (const Id customer = customer_named(writer, line.text("customer"));
        customer != 0 && customer != gauge.customer) {
        gauge.customer = customer;
        gauge.station = 0;
    }
    if (const Id station = station_named(writer, gauge.customer, line.text("station")); station != 0)
        gauge.station = station;
    if (known && detail_of(gauge) == before) {
        ++report.unchanged;
        return;
    }
    put_gauge_row(writer, gauge, false);
    ++(known ? report.changed : report.added);
}

}  // namespace

Result<ImportReport> Register::import_gauges(const Actor& actor, std::string_view csv,
                                             const std::string& name) {
    Result<CsvText> text = parse_csv(csv, name);
    if (!text) return text.fault();
    if (text->rows.empty()) return Fault{FaultCode::missing_field, "the list is empty", name, ""};
    return answered([&] {
        ImportReport report;
        const CsvRow& heading = text->rows.front();
        check_heading(heading, name, report.faults);
        if (!report.faults.empty()) return report;
        Writer writer(*impl_, actor, Permission::any);
        std::vector<std::string> seen;
        for (std::size_t i = 1; i < text->rows.size() && report.faults.size() < max_faults; ++i) {
            const CsvRow& cells = text->rows[i];
            const Line line(cells, heading, name, text->separator);
            try {
                if (cells.fields.size() > heading.fields.size())
                    stop(FaultCode::syntax, std::to_string(cells.fields.size()) +
                                                " fields under a heading of " +
                                                std::to_string(heading.fields.size()));
                const std::string key = key_of(line.text("serial")) + "|" + key_of(line.text("model"));
                if (const auto at = std::lower_bound(seen.begin(), seen.end(), key);
                    at != seen.end() && *at == key)
                    stop(FaultCode::duplicate,
                         "gauge " + in_quotes(line.text("serial")) + " stands in the list twice", "serial");
                else
                    seen.insert(at, key);
                take_line(writer, line, report);
            } catch (Stop& bad) {
                // A fault of the database itself ends the import; a fault of the line is told with its place.
                if (bad.fault.code == FaultCode::database_unreachable ||
                    bad.fault.code == FaultCode::disk_full || bad.fault.code == FaultCode::damaged)
                    throw;
                bad.fault.where = line.place(bad.fault.where);
                report.faults.push_back(std::move(bad.fault));
            }
        }
        if (!report.faults.empty()) {
            report.added = report.changed = report.unchanged = 0;
            return report;
        }
        writer.commit();
        return report;
    });
}

}  // namespace tipwright::report
