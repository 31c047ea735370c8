// People, customers, stations, gauges, instruments and service orders of the register.
#include "bench/program/options/verb.hpp"
#include "bench/program/register/entities.hpp"

namespace tipwright::program {

namespace {

void add_interval(CLI::App& command, IntervalOptions& interval) {
    command.add_option("--interval-months", interval.months, "Interval agreed with the customer")
        ->check(CLI::Range(1, 240));
    command.add_option("--agreed", interval.agreed, "Where it was agreed, for example an order")
        ->type_name("TEXT");
    command.add_flag("--no-interval", interval.none, "Forget the interval");
}

void add_people(CommandLine& line, CLI::App& parent) {
    auto& group = add_group(parent, "person", "Who may measure, check and issue");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a person" : "Enter a person", put_person);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("name", put->name, "Name")->required();
        put.command.add_option("--may-measure", put->may_measure, "Enter records and draft certificates");
        put.command.add_option("--may-check", put->may_check, "Check the drafts of others");
        put.command.add_option("--may-issue", put->may_issue, "Issue certificates and keep this list");
        if (change) put.command.add_option("--active", put->active, "Works here still");
    }
    auto passphrase = add_verb(line, group, "passphrase",
                               "Set your passphrase, or give another person theirs; then they log in with it",
                               set_person_passphrase);
    add_session(passphrase.command, passphrase->session);
    passphrase.command.add_option("name", passphrase->name, "Whose; left out: your own");
    add_passphrase(passphrase.command, passphrase->new_passphrase, "new-", "Register");
    auto list = add_verb(line, group, "list", "List the people", list_people);
    add_session(list.command, list->session, false);
}

void add_customers(CommandLine& line, CLI::App& parent) {
    auto& group = add_group(parent, "customer", "Customers");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a customer" : "Enter a customer", put_customer);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("name", put->name, "Name")->required();
        if (change) put.command.add_option("--new-name", put->new_name, "Name from now on");
        put.command.add_option("--address", put->address, "Address");
        put.command.add_option("--contact", put->contact, "Contact");
        add_interval(put.command, put->interval);
    }
    auto list = add_verb(line, group, "list", "List the customers", list_customers);
    add_session(list.command, list->session, false);
}

void add_stations(CommandLine& line, CLI::App& parent) {
    auto& group = add_group(parent, "station", "Stations of the customers");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a station" : "Enter a station", put_station);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("name", put->name, "Name")->required();
        put.command.add_option("--customer", put->customer, "Whose it is")->required()->type_name("NAME");
        if (change) put.command.add_option("--new-name", put->new_name, "Name from now on");
        put.command.add_option("--place", put->place, "Where it is");
    }
    auto list = add_verb(line, group, "list", "List the stations", list_stations);
    add_session(list.command, list->session, false);
    list.command.add_option("--customer", list->customer, "Only of this customer")->type_name("NAME");
    add_csv(list.command, list->csv);
}

void add_gauges(CommandLine& line, CLI::App& parent) {
    auto& group = add_group(parent, "gauge", "Gauges; see also 'tipwright life SERIAL'");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a gauge" : "Enter a gauge", put_gauge);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("serial", put->serial, "Serial number")->required();
        put.command.add_option(
            "--model", put->model,
            change ? "Model, where a serial number is there twice" : "Model, in the maker's words");
        if (change) {
            put.command.add_option("--new-serial", put->new_serial, "Serial number from now on");
            put.command.add_option("--new-model", put->new_model, "Model from now on");
        } else {
            put.command.add_option("--from", put->from, "Gauge description to take the facts from")
                ->type_name("FILE");
            put.command.add_flag(
                "--other-model", put->other_model_meant,
                "Another model with this serial number is there already, and both are meant");
        }
        put.command.add_option("--kind", put->kind, "Kind, as 'tipwright list' shows")->type_name("KIND");
        put.command.add_option("--nominal-tip-mm", put->nominal_tip_mm, "Nominal depth of a tip");
        put.command.add_option("--catch-diameter-mm", put->catch_diameter_mm, "Catch diameter");
        put.command.add_option("--catch-diameter-u-mm", put->catch_diameter_u_mm, "Its standard uncertainty");
        put.command.add_option("--catch-method", put->catch_method, "How it was measured");
        put.command.add_option("--contacts", put->contacts, "NO, NC, or both with a comma");
        put.command.add_option("--customer", put->customer, "Whose it is")->type_name("NAME");
        put.command.add_option("--station", put->station, "Where it stands")->type_name("NAME");
        put.command.add_option("--in-service-on", put->in_service_on, "First day in service")
            ->type_name("DATE");
        put.command.add_option("--note", put->note, "Note");
        add_interval(put.command, put->interval);
    }
    auto list = add_verb(line, group, "list", "List the gauges", list_gauges);
    add_session(list.command, list->session, false);
    list.command.add_option("--customer", list->customer, "Only of this customer")->type_name("NAME");
    list.command.add_option("--station", list->station, "Only of this station")->type_name("NAME");
    add_csv(list.command, list->csv);

    auto import =
        add_verb(line, group, "import", "Enter or change the gauges of a list, all or none", import_gauges);
    import.command.footer(
        "Columns, in any order, the first three needed: serial, model, kind, nominal_tip_mm, "
        "catch_diameter_mm,\n"
        "catch_diameter_u_mm, catch_method, contacts, customer, station, in_service_on, interval_months,\n"
        "interval_agreed, note. Comma, semicolon or tab between them. Customers and stations that are new "
        "are\n"
        "entered by name.");
    add_session(import.command, import->session);
    import.command.add_option("list", import->csv, "CSV with a heading")->required()->type_name("CSV");
}

void add_instruments(CommandLine& line, CLI::App& parent) {
    auto& group = add_group(parent, "instrument", "Instruments of the bench and their own calibrations");
    auto add = add_verb(line, group, "add", "Enter an instrument (records enter theirs by themselves)",
                        put_instrument);
    add_session(add.command, add->session);
    add.command.add_option("serial", add->serial, "Serial number")->required();
    add.command.add_option("--role", add->role, "balance, pump, counter, climate, ...")->required();
    add.command.add_option("--description", add->description, "Description");
    add.command.add_option("--bench-name", add->bench, "Name of the bench it belongs to");

    auto calibrated =
        add_verb(line, group, "calibrated", "Enter a calibration of an instrument", put_calibration);
    add_session(calibrated.command, calibrated->session);
    calibrated.command.add_option("serial", calibrated->serial, "Serial number")->required();
    calibrated.command.add_option("--role", calibrated->role, "Where two share a serial number");
    calibrated.command.add_option("--certificate", calibrated->certificate, "Number of its certificate")
        ->required();
    calibrated.command.add_option("--on", calibrated->calibrated_on, "Date")->required()->type_name("DATE");
    calibrated.command.add_option("--due", calibrated->due_on, "When the next is due")->type_name("DATE");
    calibrated.command.add_option("--traceability", calibrated->traceability, "Traceability");

    auto failed =
        add_verb(line, group, "failed",
                 "Its calibration failed: note it, and list the certificates to recall", fail_instrument);
    add_session(failed.command, failed->session);
    failed.command.add_option("serial", failed->serial, "Serial number")->required();
    failed.command.add_option("--role", failed->role, "Where two share a serial number");
    failed.command.add_option("--good-until", failed->good_until, "Last date it was known to be good")
        ->required()
        ->type_name("DATE");
    failed.command.add_option("--found-on", failed->found_on, "Date it was found out (default: today)")
        ->type_name("DATE");
    failed.command.add_option("--found", failed->found, "What was found")->required()->type_name("TEXT");
    add_csv(failed.command, failed->csv);

    auto list = add_verb(line, group, "list", "List instruments and their calibrations", list_instruments);
    add_session(list.command, list->session, false);
    add_csv(list.command, list->csv);
}

template <class Run>
Verb<ServiceOptions> add_service_verb(CommandLine& line, CLI::App& group, const char* name, const char* what,
                                      Run run) {
    auto verb = add_verb<ServiceOptions>(line, group, name, what, run);
    add_session(verb.command, verb->session);
    verb.command.add_option("serial", verb->serial, "Serial number of the gauge")->required();
    verb.command.add_option("--model", verb->model, "Model, where a serial number is there twice");
    return verb;
}

void add_service(CommandLine& line, CLI::App& parent) {
    auto& group = add_group(parent, "service",
                            "Service: order, findings, adjustment; certificates join the open order");
    const auto add_date = [](Verb<ServiceOptions>& verb, const char* what) {
        verb.command.add_option("--on", verb->on, std::string(what) + " (default: today)")->type_name("DATE");
    };
    auto open = add_service_verb(line, group, "open", "A gauge came in: open an order", open_order);
    add_date(open, "Date it was received");
    open.command.add_option("--condition", open->condition, "In what condition it came");
    open.command.add_option("--request", open->request, "What the customer asks for");

    auto finding =
        add_service_verb(line, group, "finding", "What was found, and what was done about it", add_finding);
    add_date(finding, "Date");
    finding.command.add_option("--found", finding->found, "What was found")->required();
    finding.command.add_option("--done", finding->done, "Work done");

    auto adjusted =
        add_service_verb(line, group, "adjusted", "The stop screws were adjusted", add_adjustment);
    add_date(adjusted, "Date");
    adjusted.command.add_option("--turns-a", adjusted->turns_a, "Turns at compartment A, clockwise positive");
    adjusted.command.add_option("--turns-b", adjusted->turns_b, "Turns at compartment B");
    adjusted.command.add_option("--change-a-mL", adjusted->change_a_mL, "Change of its volume per tip");
    adjusted.command.add_option("--change-b-mL", adjusted->change_b_mL, "Change of its volume per tip");
    adjusted.command.add_option("--done", adjusted->done, "Work done, in words");

    add_service_verb(line, group, "close", "The gauge goes back: close the order", close_order);

    auto list = add_verb(line, group, "list", "List orders", list_orders);
    add_session(list.command, list->session, false);
    list.command.add_option("--serial", list->serial, "Only of this gauge")->type_name("SERIAL");
    list.command.add_flag("--open", list->open_only, "Only open ones");
    add_csv(list.command, list->csv);
}

}  // namespace

void add_things(CommandLine& line, CLI::App& group) {
    add_people(line, group);
    add_customers(line, group);
    add_stations(line, group);
    add_gauges(line, group);
    add_instruments(line, group);
    add_service(line, group);
}

}  // namespace tipwright::program
