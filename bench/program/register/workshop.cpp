// Instruments of the bench and service orders.
#include "bench/descriptions/descriptions.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/in_session.hpp"

namespace tipwright::program {

namespace {

// The open order of the gauge that is meant.
Result<report::Id> order_meant(report::Register& reg, const ServiceOptions& options) {
    const auto gauge = gauge_meant(reg, options.serial, options.model);
    if (!gauge) return gauge.fault();
    const auto order = reg.open_order_of(gauge->id);
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

}  // namespace

ExitCode put_instrument(const CommonOptions& common, const InstrumentOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        report::InstrumentEntry instrument{0, options.role, options.description.value_or(""), options.serial,
                                           options.bench.value_or("")};
        return say_put(common, reg.put_instrument(actor, instrument), false, "instrument " + options.serial);
    });
}

ExitCode put_calibration(const CommonOptions& common, const InstrumentOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto instrument = instrument_meant(reg, options.serial, options.role);
        if (!instrument) return refuse(common, instrument.fault());
        const report::InstrumentCalibration calibration{0,
                                                        instrument->id,
                                                        options.certificate,
                                                        options.calibrated_on,
                                                        options.due_on,
                                                        options.traceability};
        return say_put(common, reg.put_calibration(actor, calibration), false,
                       "calibration " + options.certificate + " of instrument " + options.serial);
    });
}

ExitCode fail_instrument(const CommonOptions& common, const InstrumentOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const auto instrument = instrument_meant(reg, options.serial, options.role);
        if (!instrument) return refuse(common, instrument.fault());
        const std::string found_on = options.found_on.empty() ? today(actor.now) : options.found_on;
        return show(common,
                    reg.instrument_failed(actor, instrument->id, options.good_until, found_on, options.found),
                    options.csv);
    });
}

ExitCode list_instruments(const CommonOptions& common, const InstrumentOptions& options) {
    return table_of(common, options.session, options.csv,
                    [](report::Register& reg) { return reg.list_instruments(); });
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

}  // namespace tipwright::program
