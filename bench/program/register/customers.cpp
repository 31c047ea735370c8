// Customers and their stations.
#include "bench/program/register/commands.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/entry_options.hpp"
#include "bench/program/register/in_session.hpp"

namespace tipwright::program {

namespace {

struct CustomerOptions {
    Session session;
    std::string name;
    bool change = false;
    std::optional<std::string> address, contact, new_name;
    IntervalOptions interval;
};

struct StationOptions {
    Session session;
    std::string name;
    std::string customer;
    bool change = false;
    std::optional<std::string> place, new_name;
    std::filesystem::path csv;
};

ExitCode put_customer(const CommonOptions& common, const CustomerOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        report::Customer customer;
        customer.name = options.name;
        if (options.change) {
            const auto found = reg.customer(options.name);
            if (!found) return refuse(common, found.fault());
            customer = *found;
        }
        take(options.new_name, customer.name);
        take(options.address, customer.address);
        take(options.contact, customer.contact);
        if (auto taken = take(options.interval, customer.interval); !taken)
            return refuse(common, taken.fault());
        return say_put(common, reg.put_customer(actor, customer), options.change,
                       "customer " + customer.name);
    });
}

ExitCode list_customers(const CommonOptions& common, const CustomerOptions& options) {
    return table_of(common, options.session, {}, [](report::Register& reg) { return reg.list_customers(); });
}

ExitCode put_station(const CommonOptions& common, const StationOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto customer = customer_meant(reg, options.customer);
        if (!customer) return refuse(common, customer.fault());
        report::Station station;
        station.customer = *customer;
        station.name = options.name;
        if (options.change) {
            const auto found = reg.station(*customer, options.name);
            if (!found) return refuse(common, found.fault());
            station = *found;
        }
        take(options.new_name, station.name);
        take(options.place, station.place);
        return say_put(common, reg.put_station(actor, station), options.change, "station " + station.name);
    });
}

ExitCode list_stations(const CommonOptions& common, const StationOptions& options) {
    return table_of(common, options.session, options.csv, [&](report::Register& reg) {
        report::ListFilter filter;
        filter.customer = options.customer;
        filter.limit = 1000000;
        return reg.list_stations(filter);
    });
}

}  // namespace

void add_customers(CommandLine& line, Subcommand parent) {
    const auto group = add_group(parent, "customer", "Customers");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a customer" : "Enter a customer", put_customer);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("name", put->name, "Name").required();
        if (change) put.command.add_option("--new-name", put->new_name, "Name from now on");
        put.command.add_option("--address", put->address, "Address");
        put.command.add_option("--contact", put->contact, "Contact");
        add_interval(put.command, put->interval);
    }
    auto list = add_verb(line, group, "list", "List the customers", list_customers);
    add_session(list.command, list->session, false);
}

void add_stations(CommandLine& line, Subcommand parent) {
    const auto group = add_group(parent, "station", "Stations of the customers");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a station" : "Enter a station", put_station);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("name", put->name, "Name").required();
        put.command.add_option("--customer", put->customer, "Customer it belongs to")
            .required()
            .type_name("NAME");
        if (change) put.command.add_option("--new-name", put->new_name, "Name from now on");
        put.command.add_option("--place", put->place, "Where it is");
    }
    auto list = add_verb(line, group, "list", "List the stations", list_stations);
    add_session(list.command, list->session, false);
    list.command.add_option("--customer", list->customer, "Only of this customer").type_name("NAME");
    add_csv(list.command, list->csv);
}

}  // namespace tipwright::program
