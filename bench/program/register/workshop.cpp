// Instruments of the bench and service orders.
#include "bench/program/register/at_desk.hpp"
#include "bench/program/register/things.hpp"

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

std::string on_day(const ServiceOptions& options, const report::Stamp& stamp) {
    return options.on.empty() ? today(stamp.now) : options.on;
}

}  // namespace

ExitCode put_instrument(const CommonOptions& common, const InstrumentOptions& options) {
    return at_desk(common, options.desk, [&](report::Register& reg, const report::Stamp& stamp) {
        report::InstrumentEntry instrument{0, options.role, options.description.value_or(""), options.serial,
                                           options.bench.value_or("")};
        return say_put(common, reg.put_instrument(stamp, instrument), false, "instrument " + options.serial);
    });
}

ExitCode put_calibration(const CommonOptions& common, const InstrumentOptions& options) {
    return at_desk(common, options.desk, [&](report::Register& reg, const report::Stamp& stamp) {
        const auto instrument = instrument_meant(reg, options.serial, options.role);
        if (!instrument) return refuse(common, instrument.fault());
        const report::InstrumentCalibration calibration{0,
                                                        instrument->id,
                                                        options.certificate,
                                                        options.calibrated_on,
                                                        options.due_on,
                                                        options.traceability};
        return say_put(common, reg.put_calibration(stamp, calibration), false,
                       "calibration " + options.certificate + " of instrument " + options.serial);
    });
}

ExitCode fail_instrument(const CommonOptions& common, const InstrumentOptions& options) {
    return at_desk(common, options.desk, [&](report::Register& reg, const report::Stamp& stamp) {
        const auto instrument = instrument_meant(reg, options.serial, options.role);
        if (!instrument) return refuse(common, instrument.fault());
        const std::string found_on = options.found_on.empty() ? today(stamp.now) : options.found_on;
        return show(common,
                    reg.instrument_failed(stamp, instrument->id, options.good_until, found_on, options.found),
                    options.csv);
    });
}

ExitCode list_instruments(const CommonOptions& common, const InstrumentOptions& options) {
    return table_of(common, options.desk, options.csv,
                    [](report::Register& reg) { return reg.list_instruments(); });
}

ExitCode open_order(const CommonOptions& common, const ServiceOptions& options) {
    return at_desk(common, options.desk, [&](report::Register& reg, const report::Stamp& stamp) {
        const auto gauge = gauge_meant(reg, options.serial, options.model);
        if (!gauge) return refuse(common, gauge.fault());
        const report::Order order{0, gauge->id, on_day(options, stamp), options.condition, options.wish, ""};
        const auto id = reg.open_order(stamp, order);
        if (!id) return refuse(common, id.fault());
        return say(common, "Opened order " + std::to_string(*id) + " for gauge " + gauge->serial + ".",
                   {{"order", *id}});
    });
}

ExitCode add_finding(const CommonOptions& common, const ServiceOptions& options) {
    return at_desk(common, options.desk, [&](report::Register& reg, const report::Stamp& stamp) {
        const auto order = order_meant(reg, options);
        if (!order) return refuse(common, order.fault());
        return say_put(common,
                       reg.add_finding(stamp, {*order, on_day(options, stamp), options.found, options.done}),
                       false, "the finding in order " + std::to_string(*order));
    });
}

ExitCode add_adjustment(const CommonOptions& common, const ServiceOptions& options) {
    return at_desk(common, options.desk, [&](report::Register& reg, const report::Stamp& stamp) {
        const auto order = order_meant(reg, options);
        if (!order) return refuse(common, order.fault());
        const report::Adjustment adjustment{*order,          on_day(options, stamp), options.turns_a,
                                            options.turns_b, options.change_a_mL,    options.change_b_mL,
                                            options.done};
        return say_put(common, reg.add_adjustment(stamp, adjustment), false,
                       "the adjustment in order " + std::to_string(*order));
    });
}

ExitCode close_order(const CommonOptions& common, const ServiceOptions& options) {
    return at_desk(common, options.desk, [&](report::Register& reg, const report::Stamp& stamp) {
        const auto order = order_meant(reg, options);
        if (!order) return refuse(common, order.fault());
        if (const Outcome closed = reg.close_order(stamp, *order); !closed)
            return refuse(common, closed.fault());
        return say(common, "Closed order " + std::to_string(*order) + ".", {{"order", *order}});
    });
}

ExitCode list_orders(const CommonOptions& common, const ServiceOptions& options) {
    return table_of(common, options.desk, options.csv, [&](report::Register& reg) {
        report::ListWish wish;
        wish.serial = options.serial;
        wish.limit = 1000000;
        return reg.list_orders(wish, options.open_only);
    });
}

}  // namespace tipwright::program
