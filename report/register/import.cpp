// Importing a list of gauges from CSV. Columns are what a gauge is described with (describe.hpp), customer
// and station by name; in any order; serial, model and kind are needed. A gauge that is there already (same
// serial and model) is changed where a field is given and differs. Customers and stations that are new are
// entered by name. All lines are looked at; one bad line and nothing is imported.
#include <algorithm>
#include <cmath>

#include "report/register/impl.hpp"
#include "report/register/list_line.hpp"

namespace tipwright::report {
namespace {

// A column of the list is called as the table's; a row of another table is told by its name.
std::string list_name(const Column& column) {
    std::string name(column.name);
    if (!column.refers_to.empty() && name.ends_with("_id")) name.resize(name.size() - 3);
    return name;
}

// What a gauge is described with, as columns of the list.
class ListColumns {
public:
    template <class T>
    void operator()(const Column& column, const T&) {
        if (column.content == Column::Content::id || column.use != Column::Use::own) return;
        if (column.content == Column::Content::interval) {
            names.insert(names.end(), {"interval_months", "interval_agreed"});
            return;
        }
        names.push_back(list_name(column));
    }
    template <class Make>
    void key(const Column&, Make) {}
    std::vector<std::string> names;
};

Id customer_named(Writer& writer, const std::string& name) {
    if (name.empty()) return 0;
    const Id known = find_customer(writer.database, name);
    return known != 0 ? known : put_customer_row(writer, {0, name, "", "", std::nullopt});
}

Id station_named(Writer& writer, Id customer, const std::string& name) {
    if (name.empty()) return 0;
    if (customer == 0) stop(FaultCode::missing_field, "a station needs its customer", "customer");
    const Id known = find_station(writer.database, customer, name);
    return known != 0 ? known : put_station_row(writer, {0, customer, name, ""});
}

// Takes what a line gives, but for rows of other tables; what it leaves empty stays.
class LineTaker {
public:
    explicit LineTaker(const Line& line) : line_(line) {}
    void operator()(const Column& column, std::string& value) {
        if (column.use != Column::Use::own) return;
        if (std::string given = line_.text(column.name); !given.empty()) value = std::move(given);
    }
    void operator()(const Column&, Id&) {}
    void operator()(const Column& column, std::optional<double>& value) {
        if (const std::optional<double> given = line_.number(column.name)) value = given;
    }
    void operator()(const Column&, std::optional<AgreedInterval>& value) {
        const std::optional<double> months = line_.number("interval_months");
        if (!months) return;
        if (!(*months >= 1 && *months <= 240) || std::floor(*months) != *months)
            stop(FaultCode::bad_value, line_.text("interval_months") + " must be whole months, 1 to 240",
                 "interval_months");
        value = AgreedInterval{static_cast<int>(*months), line_.text("interval_agreed")};
    }
    template <class Make>
    void key(const Column&, Make) {}

private:
    const Line& line_;
};

void take_line(Writer& writer, const Line& line, ImportReport& report) {
    GaugeEntry gauge;
    gauge.serial = line.text("serial");
    gauge.model = line.text("model");
    check_name("serial", gauge.serial);
    check_name("model", gauge.model);
    const std::optional<GaugeEntry> known = find_gauge(writer.database, gauge.serial, gauge.model);
    if (known) gauge = *known;
    LineTaker taker(line);
    describe(taker, gauge);
    if (known) {  // the list may write them another way
        gauge.serial = known->serial;
        gauge.model = known->model;
    }
    if (const Id customer = customer_named(writer, line.text("customer"));
        customer != 0 && customer != gauge.customer) {
        gauge.customer = customer;
        gauge.station = 0;
    }
    if (const Id station = station_named(writer, gauge.customer, line.text("station")); station != 0)
        gauge.station = station;
    if (known && detail_of(gauge) == detail_of(*known)) {
        ++report.unchanged;
        return;
    }
    put_gauge_row(writer, gauge, false);
    ++(known ? report.changed : report.added);
}

}  // namespace

Result<ImportReport> Register::import_gauges(const Actor& actor, std::string_view csv,
                                             const std::string& name) {
    ListColumns known;
    const GaugeEntry any{};
    describe(known, any);
    std::vector<std::string> seen;
    return import_list(
        *impl_, actor, csv, name, {known.names, {"serial", "model", "kind"}},
        [&](Writer& writer, const Line& line, ImportReport& report) {
            const std::string key = key_of(line.text("serial")) + "|" + key_of(line.text("model"));
            const auto at = std::lower_bound(seen.begin(), seen.end(), key);
            if (at != seen.end() && *at == key)
                stop(FaultCode::duplicate,
                     "gauge " + in_quotes(line.text("serial")) + " stands in the list twice", "serial");
            seen.insert(at, key);
            take_line(writer, line, report);
        });
}

}  // namespace tipwright::report
