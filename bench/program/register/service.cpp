// Service orders: what came in, what was found, done and adjusted.
#include "bench/descriptions/descriptions.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/entry_options.hpp"
#include "bench/program/register/in_session.hpp"

namespace tipwright::program {

namespace {

struct ServiceOptions {
    Session session;
    std::string serial;
    std::string model;
    std::string on;  // date; empty: today
    std::string condition, request, found, done;
    std::optional<double> turns_a, turns_b, change_a_mL, change_b_mL;
    bool open_only = false;
    std::filesystem::path csv;
};

// The open order of the gauge that is meant.
Result<report::Id> order_meant(report::Register& reg, const ServiceOptions& options) {
    const auto gauge = gauge_meant(reg, options.serial, options.model);
    if (!gauge) return gauge.fault();
    auto order = reg.open_order_of(gauge->id);
    if (order && *order == 0)
        return Fault{FaultCode::unknown_field, "no order of gauge " + in_quotes(options.serial) + " is open",
                     "order", "open one with 'tipwright register service open'"};
    return order;
}

// Only a bucket has a compartment B. A kind that is in no template is taken as it comes.
Outcome check_fits_kind(report::Register& reg, const CommonOptions& common, const ServiceOptions& options) {
    if (!options.turns_b && !options.change_b_mL) return Done{};
    const auto gauge = gauge_meant(reg, options.serial, options.model);
    if (!gauge) return gauge.fault();
    const auto kind = bench::load_gauge(gauge->kind, common.templates);
    if (!kind || kind->gauge.compartments == 2) return Done{};
    return Fault{FaultCode::inconsistent,
                 "gauge " + in_quotes(options.serial) + " is of kind " + gauge->kind +
                     ", which has one compartment: there is no B to adjust",
                 "adjustment", "say what was done to A"};
}

std::string on_day(const ServiceOptions& options, const report::Actor& actor) {
    return options.on.empty() ? today(actor.now) : options.on;
}

ExitCode open_order(const CommonOptions& common, const ServiceOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto gauge = gauge_meant(reg, options.serial, options.model);
        if (!gauge) return refuse(common, gauge.fault());
        const report::Order order{0, gauge->id, on_day(options, actor), options.condition, options.request,
                                  ""};
        const auto id = reg.open_order(actor, order);
        if (!id) return refuse(common, id.fault());
        return say(common, "Opened order " + std::to_string(*id) + " for gauge " + gauge->serial + ".",
                   {{"order", *id}});
    });
}

ExitCode add_finding(const CommonOptions& common, const ServiceOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto order = order_meant(reg, options);
        if (!order) return refuse(common, order.fault());
        return say_put(common,
                       reg.add_finding(actor, {*order, on_day(options, actor), options.found, options.done}),
                       false, "the finding in order " + std::to_string(*order));
    });
}

ExitCode add_adjustment(const CommonOptions& common, const ServiceOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto order = order_meant(reg, options);
        if (!order) return refuse(common, order.fault());
        if (const Outcome fits = check_fits_kind(reg, common, options); !fits)
            return refuse(common, fits.fault());
        const report::Adjustment adjustment{*order,          on_day(options, actor), options.turns_a,
                                            options.turns_b, options.change_a_mL,    options.change_b_mL,
                                            options.done};
        return say_put(common, reg.add_adjustment(actor, adjustment), false,
                       "the adjustment in order " + std::to_string(*order));
    });
}

ExitCode close_order(const CommonOptions& common, const ServiceOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto order = order_meant(reg, options);
        if (!order) return refuse(common, order.fault());
        if (const Outcome closed = reg.close_order(actor, *order); !closed)
            return refuse(common, closed.fault());
        return say(common, "Closed order " + std::to_string(*order) + ".", {{"order", *order}});
    });
}

ExitCode list_orders(const CommonOptions& common, const ServiceOptions& options) {
    return table_of(common, options.session, options.csv, [&](report::Register& reg) {
        report::ListFilter filter;
        filter.serial = options.serial;
        filter.limit = 1000000;
        return reg.list_orders(filter, options.open_only);
    });
}

template <class Run>
Verb<ServiceOptions> add_service_verb(CommandLine& line, Subcommand group, const char* name, const char* what,
                                      Run run) {
    auto verb = add_verb<ServiceOptions>(line, group, name, what, run);
    add_session(verb.command, verb->session);
    verb.command.add_option("serial", verb->serial, "Serial number of the gauge").required();
    verb.command.add_option("--model", verb->model, "Model, where two gauges have the same serial number");
    return verb;
}

}  // namespace

void add_service(CommandLine& line, Subcommand parent) {
    const auto group =
        add_group(parent, "service", "Orders, findings and adjustments; certificates join the open order");
    const auto add_date = [](Verb<ServiceOptions>& verb, const char* what) {
        verb.command.add_option("--on", verb->on, std::string(what) + " (default: today)").type_name("DATE");
    };
    auto open = add_service_verb(line, group, "open", "Open an order for a gauge that came in", open_order);
    add_date(open, "Date it was received");
    open.command.add_option("--condition", open->condition, "Condition in which it came");
    open.command.add_option("--request", open->request, "What the customer asks for");

    auto finding = add_service_verb(line, group, "finding", "Enter what was found and what was done about it",
                                    add_finding);
    add_date(finding, "Date");
    finding.command.add_option("--found", finding->found, "What was found").required();
    finding.command.add_option("--done", finding->done, "Work done");

    auto adjusted =
        add_service_verb(line, group, "adjusted", "Enter an adjustment of the stop screws", add_adjustment);
    add_date(adjusted, "Date");
    adjusted.command.add_option("--turns-a", adjusted->turns_a, "Turns at compartment A, clockwise positive");
    adjusted.command.add_option("--turns-b", adjusted->turns_b, "Turns at compartment B");
    adjusted.command.add_option("--change-a-mL", adjusted->change_a_mL, "Change of A's volume per tip");
    adjusted.command.add_option("--change-b-mL", adjusted->change_b_mL, "Change of B's volume per tip");
    adjusted.command.add_option("--done", adjusted->done, "Work done, in words");

    add_service_verb(line, group, "close", "Close the order of a gauge that goes back", close_order);

    auto list = add_verb(line, group, "list", "List orders", list_orders);
    add_session(list.command, list->session, false);
    list.command.add_option("--serial", list->serial, "Only of this gauge").type_name("SERIAL");
    list.command.add_flag("--open", list->open_only, "Only open orders");
    add_csv(list.command, list->csv);
}

}  // namespace tipwright::program
