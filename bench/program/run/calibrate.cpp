#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <cstdio>
#include <optional>

#include "bench/program/command.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/letters.hpp"
#include "bench/program/run/commands.hpp"
#include "bench/program/run/drive.hpp"
#include "bench/program/run/gauge_by_serial.hpp"
#include "bench/program/run/progress_view.hpp"
#include "bench/program/run/recovery.hpp"
#include "bench/program/run/runs_elsewhere.hpp"
#include "bench/program/run/side_up.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

constexpr std::size_t longest_name = 200;  // as the register keeps them

// A run that was broken off is not overrun by a new one.
Outcome check_folder(const std::filesystem::path& folder) {
    if (auto made = make_folder(folder); !made) return made.fault();
    const std::filesystem::path journal = folder / journal_name;
    std::error_code ignored;
    if (!std::filesystem::exists(journal, ignored)) return Done{};
    const auto open = bench::open_run(journal);
    if (!open) {
        if (open.fault().code != FaultCode::inconsistent) return open.fault();
        return Fault{FaultCode::file_unwritable, "a complete run is here already, and is never written over",
                     journal.string(), "choose another folder"};
    }
    const std::size_t steps = open->run.plan.plan.steps.size();
    const std::string kept = open->run.begun ? std::to_string(open->first_step - 1) + " of " +
                                                   std::to_string(steps) + " steps are kept"
                                             : "nothing was measured";
    return Fault{FaultCode::file_unwritable, "an unfinished run is here already: " + kept, journal.string(),
                 "resume it or close it: see 'tipwright recover " + folder.string() + "'"};
}

// Instead of whom the bench's file names; the certificate has to be able to set the name.
Outcome name_operator(const std::string& name, Descriptions& given) {
    if (name.empty()) return Done{};
    if (name.size() > longest_name || visible(name) != name)
        return Fault{FaultCode::bad_value, in_quotes(name) + " is not a person's name", "--operator",
                     "give it in one line of at most 200 bytes"};
    given.bench.operator_name = name;
    auto letters = check_letters(given.gauge, given.bench, given.plan);
    if (letters) return Done{};
    letters.fault().where = "--operator";
    return letters;
}

ExitCode calibrate(const CommonOptions& common, const CalibrateOptions& asked) {
    const auto completed = with_settings(common, asked);
    if (!completed) return fail(common, completed.fault());
    const CalibrateOptions& options = *completed;
    auto given = load_descriptions({options.bench, options.gauge, options.plan, options.within_declared},
                                   common.templates);
    if (!given) return fail(common, given.fault());
    if (auto named = name_operator(options.operator_name, *given); !named) return fail(common, named.fault());
    if (options.speed && !given->bench.truth) {
        return fail(common, {FaultCode::usage, "--speed is for virtual benches; real water runs at its own",
                             "command line", "leave it out"});
    }
    const auto started_at = start_moment(given->bench, options.started_at);
    if (!started_at) return fail(common, started_at.fault());
    const auto kept = load_checks(options.bench, options.checks);
    if (!kept) return fail(common, kept.fault());
    const auto readiness = readiness_of(given->bench, kept->checks, *started_at, options.reason);
    if (!readiness) return fail(common, readiness.fault(), ExitCode::bench_fault);
    if (auto enters = check_entering(options.entering, given->bench, given->gauge, *started_at); !enters)
        return fail(common, enters.fault(), ExitCode::refused);
    if (auto free = check_folder(options.out); !free) return fail(common, free.fault());

    const auto side_up = side_up_of(given->gauge, !given->bench.truth && !common.json, options.side_up);
    if (!side_up) return fail(common, side_up.fault());
    std::fflush(stdout);
    Display display(common.json ? STDERR_FILENO : STDOUT_FILENO, common.json ? -1 : STDERR_FILENO);
    ProgressView view(display);
    if (!given->bench.truth) view.message(safety_words);
    for (const std::string& text : readiness->told) view.message(text);
    view.head(title_of(*given));

    const bool lockstep = has_virtual_links(given->bench) && !options.speed;
    const std::size_t steps = given->plan.plan.steps.size();
    boost::asio::io_context context(1);
    const auto clock = clock_of(context, has_virtual_links(given->bench), given->bench, options.speed);
    LaneOptions lane;
    lane.templates = common.templates;
    lane.folder = options.out;
    lane.seed = options.seed;
    lane.as_left = options.as_left;
    lane.side_up = *side_up;
    lane.started_at = *started_at;
    lane.operator_name = options.operator_name;
    lane.durable = !lockstep;
    bench::Supervision supervision(
        context, supervision_of(has_virtual_links(given->bench) ? 0 : given->bench.limits.hang_s, display,
                                [&view] { view.message(stopping_words); }));
    lane.supervision = &supervision;
    lane.concessions = readiness->concessions;
    lane.pump_scale = readiness->pump_scale;
    auto run = LaneRun::begin(context, *clock, std::move(*given), lane);
    if (!run)
        return fail(common, run.fault(),
                    run.fault().code == FaultCode::link_lost ? ExitCode::bench_fault : ExitCode::bad_input);
    if (auto noted = note_run(options.entering.work, (*run)->given().gauge.serial, options.out); !noted)
        view.message(not_noted(options.entering.work, noted.fault()));
    drive_one(context, *clock, **run, view, supervision);
    suspend_if_asked(supervision, display);
    if (const auto lost = keep_pump_hours(options.bench, options.checks, (*run)->given().bench,
                                          options.out / journal_name, *started_at))
        view.message(*lost);
    view.ring();
    display.finish();
    const bench::RunEnd end = (*run)->end();
    RecoverOptions ended;
    ended.folder = options.out;
    ended.speed = options.speed;
    ended.paper = options.paper;
    ended.as_left = options.as_left;
    ended.entering = options.entering;
    const std::string serial = (*run)->given().gauge.serial;
    run->reset();
    return tell_end(common, ended, end, steps, serial);
}

}  // namespace

void add_calibrate(CommandLine& line) {
    const auto [command, options] = add_command(line, line.app, "calibrate",
                                                "Run a plan on a bench and write the certificate", calibrate);
    command.add_option("--bench", options->bench, "Bench description").required().type_name("FILE");
    command
        .add_option("serial", options->serial,
                    "Serial of a gauge: from its file SERIAL.toml, or from the register")
        .type_name("SERIAL");
    command.add_option("--gauge", options->gauge, "Gauge, or a gauge kind on a virtual bench")
        .type_name("FILE");
    command
        .add_option("--plan", options->plan,
                    "Plan of intensities and limits (default: plan_as_found or plan_as_left of the settings)")
        .type_name("FILE");
    // Only the settings give these.
    command.add_option("--plan-as-found", options->plan_as_found).group("");
    command.add_option("--plan-as-left", options->plan_as_left).group("");
    command
        .add_option("--out", options->out,
                    "Folder for journal, record, tables, certificate (default: a new one in the work folder)")
        .type_name("DIR");
    add_work_folder(command, options->entering.work);
    command
        .add_option("--operator", options->operator_name,
                    "Who measures (default: the operator named in the bench description)")
        .type_name("NAME");
    add_enter(command, options->entering);
    command.add_option("--seed", options->seed, "Seed of a virtual bench").show_default();
    command
        .add_option("--speed", options->speed,
                    "Run a virtual bench at up to this many times real time (default: as fast as possible)")
        .in_range(0.1, 100.0);
    command
        .add_option("--started-at", options->started_at,
                    "Start of a virtual run, such as 2026-11-02T08:00:00Z")
        .type_name("TIME");
    command
        .add_option(
            "--reason", options->reason,
            "Accept an overdue calibration or a failed balance check, for this reason; the record states it")
        .type_name("TEXT");
    command
        .add_option("--checks", options->checks,
                    "File of pump calibrations and balance checks (default: beside the bench description)")
        .type_name("FILE");
    command
        .add_option("--side-up", options->side_up,
                    "Side of the bucket that is up, under the funnel, before the first tip")
        .one_of({"A", "B", "unknown"});
    command.add_flag("--as-left", options->as_left,
                     "The gauge is measured after adjustment (default: as found)");
    command.add_flag(
        "--within-declared", options->within_declared,
        "Leave out steps beyond the highest intensity that the maker declares (default: refuse the plan)");
    add_paper(command, *options);
}

}  // namespace tipwright::program
