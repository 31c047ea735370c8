#include "bench/program/command_line.hpp"

#include <CLI/CLI.hpp>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <optional>

#include "bench/links/link_lock.hpp"
#include "bench/program/command.hpp"
#include "bench/program/complete.hpp"
#include "bench/program/environment.hpp"
#include "bench/program/instruments/commands.hpp"
#include "bench/program/list.hpp"
#include "bench/program/manual.hpp"
#include "bench/program/nearest.hpp"
#include "bench/program/page/page.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/run/commands.hpp"
#include "bench/program/settings/settings.hpp"
#include "bench/program/settings/show_settings.hpp"
#include "bench/program/templates_place.hpp"
#include "bench/program/terminal.hpp"
#include "bench/program/version.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

constexpr const char* about =
    "Calibrates tipping-bucket rain gauges: passes known steady flows through a gauge, counts its tips, "
    "weighs\n"
    "what it discharges, derives volume per tip and its change with the rate, and writes the certificate.";

constexpr const char* footer =
    "Exit codes:\n"
    "    0  done\n"
    "    1  the program itself failed\n"
    "    2  the command line or a file is wrong\n"
    "    3  an instrument or the water failed: pump stopped, journal kept, no certificate\n"
    "    4  the measurement did not come to its end: no certificate\n"
    "    5  verify found a difference, or a check gauge is out of control\n"
    "    6  register or keys refused it: a rule, the passphrase, damage, no server; nothing was written\n"
    "    7  done, but what was to be printed could not be written: no display, a full disk\n"
    "  130  Ctrl-C: pump stopped, journal closed, no certificate\n"
    "\n"
    "Files named by --bench, --gauge and --plan may be names of templates: see 'tipwright list'.\n"
    "Keep mains power away from water, lift full vessels with care, let no water stand between uses;\n"
    "local codes and licensed practice come first.";

// What shells and the build ask of the command line itself: no subcommands of a person's.
std::optional<ExitCode> ask_about(const CLI::App& app, const std::string& what,
                                  const std::vector<std::string>& rest, const CommonOptions& common,
                                  const Settings& settings) {
    if (what == "complete") {
        const fs::path named = environment("TIPWRIGHT_TEMPLATES");
        const std::string location = settings.value_or("register", data_folder("register").string());
        for (const std::string& one :
             candidates(app, rest, named.empty() ? common.templates : named, location))
            print_to(stdout, "%s\n", one);
        return ExitCode::done;
    }
    if (what == "manual" && rest.size() == 1) {
        const Outcome written = write_manual(app, rest.front());
        return written ? ExitCode::done : fail(common, written.fault());
    }
    return std::nullopt;
}

}  // namespace

ExitCode run_program(int argc, const char* const* argv) {
    CLI::App app(about, "tipwright");
    app.footer(footer);
    app.set_version_flag("--version", std::string("tipwright ") + version());
    app.require_subcommand(1);
    app.fallthrough();
    app.get_formatter()->column_width(34);

    CommonOptions common;
    common.templates = templates_place();
    app.add_flag("--json", common.json, "Print one JSON document for machines");
    app.add_option("--templates", common.templates, "Folder of templates")
        ->envname("TIPWRIGHT_TEMPLATES")
        ->type_name("DIR");

    app.add_flag("--without-locks", bench::lock_policy().without_locks,
                 "Go on where the file system cannot lock links and journals");

    CommandLine line{app, common, {}};
    add_calibrate(line);
    add_serve(line);
    add_lanes(line);
    add_recover(line);
    add_evaluate(line);
    add_certify(line);
    add_verify(line);
    add_compare(line);
    add_trial(line);
    add_plan(line);
    add_list(line);
    add_adjust(line);
    add_field_check(line);
    add_ports(line);
    add_listen(line);
    add_bench_check(line);
    add_pump_calibration(line);
    add_balance_check(line);
    add_register_group(line);
    add_certificate_group(line);
    add_limits_group(line);
    add_keys_group(line);
    add_life(line);
    add_ask_group(line);
    add_pack(line);
    add_rain(line);
    add_virtual_rain(line);
    add_laboratory(line);
    add_page(line);
    add_label(line);
    add_settings(line);
    add_next(line);

    const auto settings = Settings::load();
    const Outcome applied = settings ? settings->apply_to(app) : Outcome(settings.fault());

    if (argc > 1) {
        const std::vector<std::string> rest(argv + 2, argv + argc);
        if (const auto code = ask_about(app, argv[1], rest, common, settings ? *settings : Settings()))
            return *code;
    }
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        if (error.get_exit_code() == 0) {
            app.exit(error);
            return ExitCode::done;
        }
        if (const auto unknown = unknown_word(app, {argv + 1, argv + argc})) return fail(common, *unknown);
        std::string what = error.what();
        for (char& c : what) c = c == '\n' ? ' ' : c;
        return fail(common, {FaultCode::usage, what, "command line", "see 'tipwright --help'"});
    }
    if (!applied) return fail(common, applied.fault());
    try {
        return line.chosen();
    } catch (const std::exception& error) {
        return fail(common, {FaultCode::inconsistent, error.what(), "tipwright", "report this as a defect"},
                    ExitCode::defect);
    }
}

}  // namespace tipwright::program
