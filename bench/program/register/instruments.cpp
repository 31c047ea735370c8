// The bench's instruments and their own calibrations.
#include "bench/program/register/commands.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/entry_options.hpp"
#include "bench/program/register/in_session.hpp"

namespace tipwright::program {

namespace {

struct InstrumentOptions {
    Session session;
    std::string serial;
    std::string role;
    std::optional<std::string> description, bench;
    std::string certificate, calibrated_on, due_on, traceability;
    std::string good_until, found_on, found;
    std::filesystem::path csv;
};

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

}  // namespace

void add_instruments(CommandLine& line, Subcommand parent) {
    const auto group = add_group(parent, "instrument", "Instruments of the bench and their own calibrations");
    auto add =
        add_verb(line, group, "add", "Enter an instrument (those that a record names are entered with it)",
                 put_instrument);
    add_session(add.command, add->session);
    add.command.add_option("serial", add->serial, "Serial number").required();
    add.command.add_option("--role", add->role, "balance, pump, counter, climate, ...").required();
    add.command.add_option("--description", add->description, "Description");
    add.command.add_option("--bench-name", add->bench, "Name of the bench it belongs to");

    auto calibrated =
        add_verb(line, group, "calibrated", "Enter a calibration of an instrument", put_calibration);
    add_session(calibrated.command, calibrated->session);
    calibrated.command.add_option("serial", calibrated->serial, "Serial number").required();
    calibrated.command.add_option("--role", calibrated->role,
                                  "Role, where two instruments have the same serial number");
    calibrated.command.add_option("--certificate", calibrated->certificate, "Number of its certificate")
        .required();
    calibrated.command.add_option("--on", calibrated->calibrated_on, "Date of the calibration")
        .required()
        .type_name("DATE");
    calibrated.command.add_option("--due", calibrated->due_on, "Date when the next one is due")
        .type_name("DATE");
    calibrated.command.add_option("--traceability", calibrated->traceability, "Traceability");

    auto failed =
        add_verb(line, group, "failed",
                 "Note that an instrument failed its calibration, and list the certificates to recall",
                 fail_instrument);
    add_session(failed.command, failed->session);
    failed.command.add_option("serial", failed->serial, "Serial number").required();
    failed.command.add_option("--role", failed->role,
                              "Role, where two instruments have the same serial number");
    failed.command
        .add_option("--good-until", failed->good_until, "Last date on which it was known to be good")
        .required()
        .type_name("DATE");
    failed.command.add_option("--found-on", failed->found_on, "Date on which that was found (default: today)")
        .type_name("DATE");
    failed.command.add_option("--found", failed->found, "What was found").required().type_name("TEXT");
    add_csv(failed.command, failed->csv);

    auto list = add_verb(line, group, "list", "List instruments and their calibrations", list_instruments);
    add_session(list.command, list->session, false);
    add_csv(list.command, list->csv);
}

}  // namespace tipwright::program
