#include "bench/program/register/entities.hpp"

#include <algorithm>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/register/in_session.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

template <class T>
void take(const std::optional<T>& given, T& value) {
    if (given) value = *given;
}

template <class T>
void take(const std::optional<T>& given, std::optional<T>& value) {
    if (given) value = given;
}

Outcome take(const IntervalOptions& given, std::optional<report::AgreedInterval>& value) {
    if (given.none) value.reset();
    if (given.months) value = report::AgreedInterval{*given.months, given.agreed};
    if (!given.months && !given.agreed.empty())
        return Fault{FaultCode::usage, "--agreed without --interval-months", "command line", "give both"};
    return Done{};
}

// An id of 0 for a name that is not known.
Result<report::Id> owner(report::Register& reg, const std::string& customer) {
    if (customer.empty()) return report::Id{0};
    const auto found = reg.customer(customer);
    if (!found) {
        Fault fault = found.fault();
        fault.remedy = "enter it with 'tipwright register customer add'";
        return fault;
    }
    return found->id;
}

// What a gauge's description file says, as the register keeps it.
Outcome take_description(report::Register& reg, const CommonOptions& common, const GaugeOptions& options,
                         report::GaugeEntry& gauge) {
    const auto file = bench::load_gauge(options.from, common.templates);
    if (!file) return file.fault();
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
    const auto customer = reg.customer(file->customer.name);
    if (customer) gauge.customer = customer->id;
    if (gauge.customer != 0 && !file->station.empty())
        if (const auto station = reg.station(gauge.customer, file->station); station)
            gauge.station = station->id;
    return Done{};
}

Outcome fill_gauge(report::Register& reg, const CommonOptions& common, const GaugeOptions& options,
                   report::GaugeEntry& gauge) {
    if (!options.from.empty())
        if (auto taken = take_description(reg, common, options, gauge); !taken) return taken;
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
        const auto customer = owner(reg, *options.customer);
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

}  // namespace

Result<report::GaugeEntry> gauge_meant(report::Register& reg, const std::string& serial,
                                       const std::string& model) {
    const auto found = reg.gauges_with_serial(serial);
    if (!found) return found.fault();
    std::vector<report::GaugeEntry> fitting;
    std::string models;
    for (const auto& gauge : *found) {
        models += (models.empty() ? "" : ", ") + in_quotes(gauge.model);
        if (model.empty() || gauge.model == model) fitting.push_back(gauge);
    }
    if (fitting.size() == 1) return fitting.front();
    if (fitting.empty())
        return Fault{FaultCode::unknown_field,
                     "the register has no gauge with serial " + in_quotes(serial) +
                         (model.empty() || found->empty() ? "" : " of model " + in_quotes(model)),
                     "serial", found->empty() ? "enter it, or import a list" : "it has: " + models};
    return Fault{FaultCode::bad_value, "several gauges have serial " + in_quotes(serial), "serial",
                 "give --model as one of " + models};
}

Result<report::InstrumentEntry> instrument_meant(report::Register& reg, const std::string& serial,
                                                 const std::string& role) {
    const auto found = reg.instruments_with_serial(serial);
    if (!found) return found.fault();
    std::vector<report::InstrumentEntry> fitting;
    for (const auto& instrument : *found)
        if (role.empty() || instrument.role == role) fitting.push_back(instrument);
    if (fitting.size() == 1) return fitting.front();
    if (fitting.empty())
        return Fault{FaultCode::unknown_field,
                     "the register has no instrument with serial " + in_quotes(serial), "serial",
                     "see 'tipwright register instrument list'"};
    return Fault{FaultCode::bad_value, "several instruments have serial " + in_quotes(serial), "serial",
                 "give --role too"};
}

ExitCode put_person(const CommonOptions& common, const PersonOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        report::Person person;
        person.name = options.name;
        if (options.change) {
            const auto found = reg.person(options.name);
            if (!found) return refuse(common, found.fault());
            person = *found;
        }
        take(options.may_measure, person.may_measure);
        take(options.may_check, person.may_check);
        take(options.may_issue, person.may_issue);
        take(options.active, person.active);
        return say_put(common, reg.put_person(actor, person), options.change, person.name);
    });
}

ExitCode set_person_passphrase(const CommonOptions& common, const PersonOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const std::string name = options.name.empty() ? actor.person : options.name;
        const auto person = reg.person(name);
        if (!person) return refuse(common, person.fault());
        const auto passphrase =
            read_passphrase(options.new_passphrase, "New passphrase of " + person->name, true);
        if (!passphrase) return refuse(common, passphrase.fault());
        if (const Outcome done = reg.set_passphrase(actor, name, *passphrase); !done)
            return refuse(common, done.fault());
        const auto after = reg.person(name);
        if (!after) return refuse(common, after.fault());
        return say(common,
                   after->passphrase == report::PassphraseState::own
                       ? after->name + " logs in with this passphrase from now on."
                       : after->name +
                             " logs in with this passphrase, and sets an own one before "
                             "checking or issuing.",
                   {{"id", after->id}});
    });
}

ExitCode list_people(const CommonOptions& common, const PersonOptions& options) {
    return table_of(common, options.session, {}, [](report::Register& reg) -> Result<report::Table> {
        const auto people = reg.people();
        if (!people) return people.fault();
        report::Table out{
            {"name", "may_measure", "may_check", "may_issue", "active", "passphrase"}, {}, false};
        const auto yes = [](bool value) { return std::string(value ? "yes" : "no"); };
        for (const auto& person : *people)
            out.rows.push_back({person.name, yes(person.may_measure), yes(person.may_check),
                                yes(person.may_issue), yes(person.active),
                                person.passphrase == report::PassphraseState::none    ? std::string("none")
                                : person.passphrase == report::PassphraseState::given ? std::string("given")
                                                                                      : std::string("own")});
        return out;
    });
}

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
        const auto customer = owner(reg, options.customer);
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
        if (auto filled = fill_gauge(reg, common, options, gauge); !filled)
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

ExitCode import_gauges(const CommonOptions& common, const GaugeOptions& options) {
    const auto text = read_file(options.csv);
    if (!text) return refuse(common, text.fault());
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto report = reg.import_gauges(actor, *text, options.csv.string());
        if (!report) return refuse(common, report.fault());
        if (!report->faults.empty()) {
            // Each bad line is told; for machines one is enough to know that nothing was taken.
            if (common.json) return refuse(common, report->faults.front());
            for (const Fault& fault : report->faults) refuse(common, fault);
            return ExitCode::bad_input;
        }
        return say(common,
                   std::to_string(report->added) + " gauges entered, " + std::to_string(report->changed) +
                       " changed, " + std::to_string(report->unchanged) + " as they were.",
                   {{"added", std::int64_t{report->added}},
                    {"changed", std::int64_t{report->changed}},
                    {"unchanged", std::int64_t{report->unchanged}}});
    });
}

}  // namespace tipwright::program
