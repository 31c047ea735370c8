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
#include "bench/program/missing_word.hpp"
#include "bench/program/page/page.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/run/commands.hpp"
#include "bench/program/settings/settings.hpp"
#include "bench/program/settings/show_settings.hpp"
#include "bench/program/shown.hpp"
#include "bench/program/templates_place.hpp"
#include "bench/program/terminal.hpp"
#include "bench/program/unknown_word.hpp"
#include "bench/program/version.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

constexpr const char* about =
    "Calibrates tipping-bucket rain gauges: passes known steady flows through a gauge, counts its tips, "
    "weighs\n"
    "what it discharges, derives the volume per tip and its change with the rate, and writes the "
    "certificate.";

constexpr const char* footer =
    "Exit codes:\n"
    "    0  done\n"
    "    1  the program itself failed\n"
    "    2  the command line or a file is wrong\n"
    "    3  an instrument or the water failed: pump stopped, journal kept, no certificate\n"
    "    4  the measurement was not completed: no certificate\n"
    "    5  verify found a difference, or a check gauge is out of control\n"
    "    6  register or keys refused it: a rule, the passphrase, damage, no server, no space; nothing is "
    "half-written\n"
    "    7  done, but the output could not be printed: no display, a full disk\n"
    "    8  verify found nothing wrong, but could not judge everything it was given\n"
    "  130  Ctrl-C: pump stopped, journal closed, no certificate\n"
    "\n"
    "A day at the bench, from morning to certificate: 'man tipwright-workshop', or README.md of the source.\n"
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
        const WhereNamesAre where{named.empty() ? common.templates : named, location,
                                  settings.value_or("work", "work")};
        for (const std::string& one : candidates(app, rest, where)) print_to(stdout, "%s\n", one);
        return ExitCode::done;
    }
    if (what == "manual" && rest.size() == 1) {
        const Outcome written = write_manual(app, rest.front());
        return written ? ExitCode::done : fail(common, written.fault());
    }
    return std::nullopt;
}

struct Command {
    const char* name;
    void (*add)(CommandLine&);
};
constexpr Command every_command[] = {
    {"calibrate", add_calibrate},
    {"serve", add_serve},
    {"lanes", add_lanes},
    {"recover", add_recover},
    {"evaluate", add_evaluate},
    {"certify", add_certify},
    {"verify", add_verify},
    {"compare", add_compare},
    {"trial", add_trial},
    {"plan", add_plan},
    {"list", add_list},
    {"adjust", add_adjust},
    {"field-check", add_field_check},
    {"ports", add_ports},
    {"listen", add_listen},
    {"bench-check", add_bench_check},
    {"pump-calibration", add_pump_calibration},
    {"balance-check", add_balance_check},
    {"register", add_register_group},
    {"certificate", add_certificate_group},
    {"limits", add_limits_group},
    {"keys", add_keys_group},
    {"life", add_life},
    {"ask", add_ask_group},
    {"pack", add_pack},
    {"rain", add_rain},
    {"virtual-rain", add_virtual_rain},
    {"laboratory", add_laboratory},
    {"page", add_page},
    {"label", add_label},
    {"settings", add_settings},
    {"next", add_next},
};

// The first word that is the name of a command. To build all of them takes longer than most of them run.
const Command* named_command(int argc, const char* const* argv) {
    for (int i = 1; i < argc; ++i)
        for (const Command& command : every_command)
            if (std::string_view(argv[i]) == command.name) return &command;
    return nullptr;
}

// The command line: with all its commands, or with one.
struct Program {
    explicit Program(const Command* only) {
        app.footer(footer);
        app.set_version_flag("--version", std::string("tipwright ") + version());
        app.require_subcommand(1);
        app.fallthrough();
        app.get_formatter()->column_width(34);
        common.templates = templates_place();
        app.add_flag("--json", common.json, "Print one JSON document for machines");
        app.add_option("--templates", common.templates, "Folder of templates")
            ->envname("TIPWRIGHT_TEMPLATES")
            ->type_name("DIR");
        app.add_flag("--without-locks", bench::lock_policy().without_locks,
                     "Work without locks, where the file system cannot lock links and journals");
        app.add_option("--display-zone", shown_as.zone,
                       "Time zone for the times shown: Europe/Vienna, UTC, +01:00, local (files stay in UTC)")
            ->envname("TIPWRIGHT_DISPLAY_ZONE")
            ->type_name("ZONE");
        app.add_option("--display-units", shown_as.units, "in/h: show intensities in in/h beside mm/h")
            ->envname("TIPWRIGHT_DISPLAY_UNITS")
            ->check(CLI::IsMember({"mm/h", "in/h"}))
            ->type_name("UNITS");
        for (const Command& command : every_command)
            if (only == nullptr || only == &command) command.add(line);
    }

    CLI::App app{about, "tipwright"};
    CommonOptions common;
    ShownAs shown_as;
    CommandLine line{Subcommand(app), common, {}};
};

// Where the command line was not read to its end, options of the program were not yet given their values.
CommonOptions as_asked(const Program& program) {
    CommonOptions out = program.common;
    out.json = out.json || program.app.get_option("--json")->count() > 0;
    return out;
}

ExitCode run_chosen(const Program& program, const Outcome& applied) {
    if (!applied) return fail(program.common, applied.fault());
    if (const auto wanted = show_as(program.shown_as); !wanted) return fail(program.common, wanted.fault());
    try {
        return program.line.chosen();
    } catch (const std::exception& error) {
        return fail(program.common,
                    {FaultCode::inconsistent, error.what(), "tipwright", "report this as a defect"},
                    ExitCode::defect);
    }
}

}  // namespace

ExitCode run_program(int argc, const char* const* argv) {
    if (argc == 2 && std::string_view(argv[1]) == "--version") {
        print_to(stdout, "tipwright %s\n", version());
        return ExitCode::done;
    }
    const auto settings = Settings::load();
    const auto apply = [&](Program& program) {
        return settings ? settings->apply_to(program.app) : Outcome(settings.fault());
    };
    if (const Command* named = named_command(argc, argv)) {
        Program program(named);
        const Outcome applied = apply(program);
        bool parsed = true;
        try {
            program.app.parse(argc, argv);
        } catch (const AlreadyThere& there) {
            return fail(as_asked(program), there.fault());
        } catch (const CLI::ParseError&) {
            parsed = false;  // what is wrong, or its help, the whole command line says
        }
        if (parsed) return run_chosen(program, applied);
    }
    Program program(nullptr);
    const CommonOptions& common = program.common;
    const Outcome applied = apply(program);
    if (argc > 1) {
        const std::vector<std::string> rest(argv + 2, argv + argc);
        if (const auto code =
                ask_about(program.app, argv[1], rest, common, settings ? *settings : Settings()))
            return *code;
    }
    try {
        program.app.parse(argc, argv);
    } catch (const AlreadyThere& there) {
        return fail(as_asked(program), there.fault());
    } catch (const CLI::ParseError& error) {
        const bool no_command = argc > 1 && argv[1][0] != '-' && named_command(argc, argv) == nullptr;
        if (error.get_exit_code() == 0 && !no_command) {
            program.app.exit(error);
            return ExitCode::done;
        }
        if (const auto unknown = unknown_word(program.app, {argv + 1, argv + argc}))
            return fail(as_asked(program), *unknown);
        return fail(as_asked(program), unreadable_command_line(program.app, error));
    }
    return run_chosen(program, applied);
}

}  // namespace tipwright::program
