// Gauges: entered one by one, from a description, or as a list.
#include "bench/descriptions/descriptions.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/entry_options.hpp"
#include "bench/program/register/in_session.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct GaugeOptions {
    Session session;
    std::string serial;
    std::string model;  // tells apart gauges of one serial
    std::string from;   // gauge description
    bool change = false;
    bool other_model_meant = false;
    std::optional<std::string> kind, catch_method, contacts, customer, station, in_service_on, note,
        new_serial, new_model;
    std::optional<double> nominal_tip_mm, catch_diameter_mm, catch_diameter_u_mm;
    IntervalOptions interval;
    std::filesystem::path csv;
};

// What a gauge's description file says, as the register keeps it.
Outcome take_description(report::Register& reg, const report::Actor& actor, const CommonOptions& common,
                         const GaugeOptions& options, report::GaugeEntry& gauge) {
    const auto file = bench::load_gauge(options.from, common.templates);
    if (!file) return file.fault();
    if (!file->serial.empty() && file->serial != options.serial)
        return Fault{FaultCode::inconsistent,
                     "the description is of gauge " + in_quotes(file->serial) + ", not of " +
                         in_quotes(options.serial),
                     options.from, "give that serial number, or correct the file"};
    gauge.kind = file->kind;
    if (gauge.model.empty()) gauge.model = file->model;
    gauge.nominal_tip_mm = file->gauge.nominal_tip_mm;
    gauge.catch_diameter_mm = file->gauge.catch_diameter_mm.value;
    gauge.catch_diameter_u_mm = file->gauge.catch_diameter_mm.u;
    gauge.catch_method = file->catch_diameter_method;
    gauge.contacts.clear();
    for (const auto& contact : file->gauge.contacts)
        gauge.contacts +=
            std::string(gauge.contacts.empty() ? "" : ",") + (contact.normally_closed ? "NC" : "NO");
    if (file->invented && !options.note) gauge.note = invented_note;
    if (options.customer || file->customer.name.empty()) return Done{};
    // Customer and station that are new are entered by what the file says of them.
    if (const auto customer = reg.customer(file->customer.name)) {
        gauge.customer = customer->id;
    } else {
        const auto entered = reg.put_customer(
            actor, {0, file->customer.name, file->customer.address, file->customer.contact, std::nullopt});
        if (!entered) return entered.fault();
        gauge.customer = *entered;
    }
    if (options.station || file->station.empty()) return Done{};
    if (const auto station = reg.station(gauge.customer, file->station)) {
        gauge.station = station->id;
    } else {
        const auto entered = reg.put_station(actor, {0, gauge.customer, file->station, ""});
        if (!entered) return entered.fault();
        gauge.station = *entered;
    }
    return Done{};
}

Outcome fill_gauge(report::Register& reg, const report::Actor& actor, const CommonOptions& common,
                   const GaugeOptions& options, report::GaugeEntry& gauge) {
    if (!options.from.empty())
        if (auto taken = take_description(reg, actor, common, options, gauge); !taken) return taken;
    take(options.new_serial, gauge.serial);
    take(options.new_model, gauge.model);
    take(options.kind, gauge.kind);
    take(options.catch_method, gauge.catch_method);
    take(options.contacts, gauge.contacts);
    take(options.in_service_on, gauge.in_service_on);
    take(options.note, gauge.note);
    take(options.nominal_tip_mm, gauge.nominal_tip_mm);
    take(options.catch_diameter_mm, gauge.catch_diameter_mm);
    take(options.catch_diameter_u_mm, gauge.catch_diameter_u_mm);
    if (options.customer) {
        const auto customer = customer_meant(reg, *options.customer);
        if (!customer) return customer.fault();
        if (*customer != gauge.customer) gauge.station = 0;
        gauge.customer = *customer;
    }
    if (options.station && !options.station->empty()) {
        if (gauge.customer == 0)
            return Fault{FaultCode::missing_field, "a station is identified by its customer too",
                         "--customer", ""};
        const auto station = reg.station(gauge.customer, *options.station);
        if (!station) return station.fault();
        gauge.station = station->id;
    } else if (options.station) {
        gauge.station = 0;
    }
    return take(options.interval, gauge.interval);
}

ExitCode put_gauge(const CommonOptions& common, const GaugeOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        report::GaugeEntry gauge;
        gauge.serial = options.serial;
        gauge.model = options.model;
        if (options.change) {
            const auto found = gauge_meant(reg, options.serial, options.model);
            if (!found) return refuse(common, found.fault());
            gauge = *found;
        }
        if (auto filled = fill_gauge(reg, actor, common, options, gauge); !filled)
            return refuse(common, filled.fault());
        return say_put(common, reg.put_gauge(actor, gauge, options.other_model_meant), options.change,
                       "gauge " + gauge.serial);
    });
}

ExitCode list_gauges(const CommonOptions& common, const GaugeOptions& options) {
    return table_of(common, options.session, options.csv, [&](report::Register& reg) {
        report::ListFilter filter;
        filter.customer = options.customer.value_or("");
        filter.station = options.station.value_or("");
        filter.limit = 1000000;
        return reg.list_gauges(filter);
    });
}

// `import(register, actor, text, name)` takes the list.
template <class Import>
ExitCode import_list(const CommonOptions& common, const GaugeOptions& options, const char* things,
                     Import import) {
    const auto text = read_file(options.csv);
    if (!text) return refuse(common, text.fault());
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto report = import(reg, actor, *text, options.csv.string());
        if (!report) return refuse(common, report.fault());
        if (!report->faults.empty()) {
            // Each bad line is told; for machines one is enough to know that nothing was taken.
            if (common.json) return refuse(common, report->faults.front());
            for (const Fault& fault : report->faults) refuse(common, fault);
            return ExitCode::bad_input;
        }
        return say(common,
                   std::to_string(report->added) + " " + things + " entered, " +
                       std::to_string(report->changed) + " changed, " + std::to_string(report->unchanged) +
                       " as they were.",
                   {{"added", std::int64_t{report->added}},
                    {"changed", std::int64_t{report->changed}},
                    {"unchanged", std::int64_t{report->unchanged}}});
    });
}

ExitCode import_gauges(const CommonOptions& common, const GaugeOptions& options) {
    return import_list(common, options, "gauges",
                       [](report::Register& reg, const report::Actor& actor, const std::string& text,
                          const std::string& name) { return reg.import_gauges(actor, text, name); });
}

ExitCode import_calibrations(const CommonOptions& common, const GaugeOptions& options) {
    return import_list(common, options, "calibrations made elsewhere",
                       [](report::Register& reg, const report::Actor& actor, const std::string& text,
                          const std::string& name) { return reg.import_calibrations(actor, text, name); });
}

}  // namespace

void add_gauges(CommandLine& line, Subcommand parent) {
    const auto group = add_group(parent, "gauge", "Gauges; see also 'tipwright life SERIAL'");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a gauge" : "Enter a gauge", put_gauge);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("serial", put->serial, "Serial number").required();
        put.command.add_option(
            "--model", put->model,
            change ? "Model, where two gauges have the same serial number" : "Model, in the maker's words");
        if (change) {
            put.command.add_option("--new-serial", put->new_serial, "Serial number from now on");
            put.command.add_option("--new-model", put->new_model, "Model from now on");
        } else {
            put.command.add_option("--from", put->from, "Gauge description to take the facts from")
                .type_name("FILE");
            put.command.add_flag("--other-model", put->other_model_meant,
                                 "Enter it although a gauge of another model has this serial number");
        }
        put.command.add_option("--kind", put->kind, "Kind, as 'tipwright list' shows").type_name("KIND");
        put.command.add_option("--nominal-tip-mm", put->nominal_tip_mm, "Nominal depth of a tip");
        put.command.add_option("--catch-diameter-mm", put->catch_diameter_mm, "Catch diameter");
        put.command.add_option("--catch-diameter-u-mm", put->catch_diameter_u_mm, "Its standard uncertainty");
        put.command.add_option("--catch-method", put->catch_method, "How the catch diameter was measured");
        put.command.add_option("--contacts", put->contacts,
                               "NO or NC; for two contacts both, separated by a comma");
        put.command.add_option("--customer", put->customer, "Customer it belongs to").type_name("NAME");
        put.command.add_option("--station", put->station, "Station where it stands").type_name("NAME");
        put.command.add_option("--in-service-on", put->in_service_on, "First day in service")
            .type_name("DATE");
        put.command.add_option("--note", put->note, "Note");
        add_interval(put.command, put->interval);
    }
    auto list = add_verb(line, group, "list", "List the gauges", list_gauges);
    add_session(list.command, list->session, false);
    list.command.add_option("--customer", list->customer, "Only of this customer").type_name("NAME");
    list.command.add_option("--station", list->station, "Only of this station").type_name("NAME");
    add_csv(list.command, list->csv);

    auto import =
        add_verb(line, group, "import", "Enter or change the gauges of a list, all or none", import_gauges);
    import.command.footer(
        "Columns, in any order, the first three required: serial, model, kind, nominal_tip_mm, "
        "catch_diameter_mm,\n"
        "catch_diameter_u_mm, catch_method, contacts, customer, station, in_service_on, interval_months,\n"
        "interval_agreed, note. Comma, semicolon or tab between them. Customers and stations that are new "
        "are\n"
        "entered by name.");
    add_session(import.command, import->session);
    import.command.add_option("list", import->csv, "CSV with a header line").required().type_name("CSV");

    auto others =
        add_verb(line, group, "import-calibrations",
                 "Enter calibrations that other laboratories made, all or none", import_calibrations);
    others.command.footer(
        "Columns, in any order, the first three required: serial, calibrated_on, certificate, laboratory, "
        "model,\n"
        "intensity_mm_h, error_percent, U_percent (expanded, k = 2). One line for each point of the result "
        "table; "
        "a\n"
        "certificate of which only date and number are known has one line without the last three. The "
        "gauges\n"
        "must be in the register already. Due dates follow from these calibrations; they never count as "
        "your\n"
        "own.");
    add_session(others.command, others->session);
    others.command.add_option("list", others->csv, "CSV with a header line").required().type_name("CSV");
}

}  // namespace tipwright::program
