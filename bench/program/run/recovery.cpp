// recover: a run that did not come to its end. Stops its pump, says what was kept, and goes on from the first
// step that was not, or closes it as incomplete; which of both, the operator says.
#include <termios.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <charconv>
#include <cstdio>
#include <iostream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "bench/program/command.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/run/commands.hpp"
#include "bench/program/run/drive.hpp"
#include "bench/program/run/enter_result.hpp"
#include "bench/program/run/recovery.hpp"
#include "bench/program/run/run_outcome.hpp"
#include "bench/program/run/stop_left_pump.hpp"
#include "bench/program/run/work_folder.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

std::string without_links(const std::string& text) {
    std::istringstream lines(text);
    std::string rest;
    for (std::string line; std::getline(lines, line);) {
        if (!line.starts_with("link") && !line.starts_with("served_")) rest += line + "\n";
    }
    return rest;
}

// The bench of the journal; its links may be others by now, nothing else.
Result<bench::BenchDescription> bench_of(const bench::OpenRun& open, const RecoverOptions& options,
                                         const std::filesystem::path& templates) {
    if (options.bench.empty()) return open.run.bench;
    auto given = bench::load_bench(options.bench, templates);
    if (!given) return given.fault();
    if (without_links(given->text.text) != without_links(open.run.bench.text.text)) {
        return Fault{FaultCode::inconsistent, "differs from the bench of the journal in more than its links",
                     given->text.name, "a run is resumed on its own bench; links alone may change"};
    }
    return *given;
}

std::string what_was_kept(const bench::OpenRun& open) {
    const std::size_t steps = open.run.plan.plan.steps.size();
    std::string text =
        std::to_string(open.first_step - 1) + " of " + std::to_string(steps) + " steps are kept";
    if (open.run.step_in_hand > 0 && open.run.step_in_hand == open.first_step)
        text += "; step " + std::to_string(open.run.step_in_hand) + " was in hand and begins anew";
    return text;
}

nlohmann::ordered_json document_of(const bench::OpenRun& open, const std::filesystem::path& folder,
                                   const PumpFound& pump) {
    return {{"ok", pump.reached},
            {"journal", (folder / journal_name).string()},
            {"begun", open.run.begun},
            {"steps_kept", open.first_step - 1},
            {"steps", open.run.plan.plan.steps.size()},
            {"entries", open.journal.entries},
            {"torn_bytes", open.journal.torn_bytes},
            {"last_time_s", open.journal.last_time_s},
            {"closed", open.journal.closed},
            {"end_reason", open.run.end_reason},
            {"pump", pump.words}};
}

void tell(const bench::OpenRun& open, const std::filesystem::path& folder, const std::string& pump) {
    const std::string journal = (folder / journal_name).string();
    const std::string why = open.run.end_reason;
    std::string text;
    const auto row = [&text](std::string name, const std::string& what) {
        name.resize(12, ' ');
        text += visible(name + " " + what) + "\n";
    };
    row("journal", journal + ": " + std::to_string(open.journal.entries) + " entries, to " +
                       calib::fixed(open.journal.last_time_s, 0) + " s of bench time");
    if (open.journal.torn_bytes > 0)
        row("torn", std::to_string(open.journal.torn_bytes) +
                        " bytes at the end, cut back when the journal is resumed");
    row("pump", pump);
    if (open.run.begun) {
        row("run",
            open.run.plan.plan.name + " on " + open.run.bench.title + ", gauge " + open.run.gauge.serial);
        row("ended", why);
        row("kept", what_was_kept(open));
    } else {
        row("kept", "nothing: the run was stopped before anything was measured");
    }
    // A terminal that takes nothing must not hold up what comes next.
    Display display(STDOUT_FILENO, -1);
    display.say(text);
}

// The bench as the user named it, now or then: its checks stand beside it.
std::string bench_name(const RecoverOptions& options, const bench::OpenRun& open) {
    return options.bench.empty() ? open.run.bench.text.name : options.bench;
}

ExitCode close_it(const CommonOptions& common, const RecoverOptions& options, bench::OpenRun open,
                  const PumpFound& pump) {
    const std::filesystem::path& folder = options.folder;
    const double now_s = open.journal.last_time_s;
    const std::string ended_at =
        open.run.bench.truth ? later(open.run.started_at, now_s).value_or(utc_now()) : utc_now();
    const std::string why = open.run.begun ? open.run.end_reason : "it was stopped before it began";
    const std::string reason = std::string(closed_as_incomplete) + why;
    if (open.journal.closed) {
        return fail(common, {FaultCode::inconsistent, "the run is closed already: " + why,
                             (folder / journal_name).string(), "resume it, or leave it as it is"});
    }
    nlohmann::ordered_json document = document_of(open, folder, pump);
    auto journal = bench::go_on_writing(open, {true});
    if (!journal) return fail(common, journal.fault());
    bench::RunLog log(**journal);
    if (!pump.reached) log.remark(now_s, "The pump when the run was closed: " + pump.words + ".");
    if (open.journal.torn_bytes > 0)
        log.remark(now_s, std::to_string(open.journal.torn_bytes) +
                              " torn bytes at the end of the journal were cut back when the run was closed.");
    log.close(now_s, ended_at, false, reason);
    if (log.failure()) return fail(common, *log.failure());
    if (open.run.begun) {
        const auto lost = keep_pump_hours(bench_name(options, open), {}, open.run.bench,
                                          folder / journal_name, open.run.started_at);
        if (lost && !common.json) print_to(stdout, "%s\n", lost->c_str());
    }
    if (common.json) {
        document["closed"] = true;
        document["end_reason"] = open.run.begun ? why : reason;
        print_json(document);
    } else {
        print_to(stdout, "%-12s as incomplete; 'tipwright evaluate %s' computes what was measured\n",
                 "closed", (folder / journal_name).c_str());
    }
    if (pump.reached) return ExitCode::done;
    print_to(stderr,
             "tipwright: the run is closed, but its pump was not reached: pull its plug if it turns\n");
    return ExitCode::bench_fault;
}

ExitCode resume_run(const CommonOptions& common, const RecoverOptions& options, bench::OpenRun open,
                    bench::BenchDescription bench) {
    Descriptions given{std::move(bench), open.run.gauge, open.run.plan};
    if (options.speed && !given.bench.truth) {
        return fail(common, {FaultCode::usage, "--speed is for virtual benches; real water runs at its own",
                             "command line", "leave it out"});
    }
    const bool lockstep = has_virtual_links(given.bench) && !options.speed;
    const std::size_t steps = given.plan.plan.steps.size();
    LaneOptions lane;
    lane.templates = common.templates;
    lane.folder = options.folder;
    lane.durable = !lockstep;
    if (given.gauge.gauge.compartments == 2 && options.side_up != "") lane.side_up = options.side_up[0];
    const std::string& seed = open.run.seed;
    std::from_chars(seed.data(), seed.data() + seed.size(), lane.seed);

    std::fflush(stdout);
    Display display(common.json ? STDERR_FILENO : STDOUT_FILENO, common.json ? -1 : STDERR_FILENO);
    ProgressView view(display);
    if (!given.bench.truth) view.message(safety_words);
    view.head(title_of(given));
    asio::io_context context(1);
    const double start_s = bench_time_to_resume_s(open);
    const auto clock = clock_of(context, has_virtual_links(given.bench), given.bench, options.speed, start_s);
    bench::Supervision supervision(
        context, supervision_of(has_virtual_links(given.bench) ? 0 : given.bench.limits.hang_s, display,
                                [&view] { view.message(stopping_words); }));
    lane.supervision = &supervision;
    const std::string name = bench_name(options, open);
    const std::string started_at = open.run.started_at;
    auto run = LaneRun::resume(context, *clock, std::move(given), std::move(open), lane);
    if (!run) return fail(common, run.fault());
    drive_one(context, *clock, **run, view, supervision);
    suspend_if_asked(supervision, display);
    if (const auto lost =
            keep_pump_hours(name, {}, (*run)->given().bench, options.folder / journal_name, started_at))
        view.message(*lost);
    view.ring();
    display.finish();
    const bench::RunEnd end = (*run)->end();
    const std::string serial = (*run)->given().gauge.serial;
    run->reset();
    return tell_end(common, options, end, steps, serial);
}

// A folder as it is; of a serial its newest run in the work folder that did not come to its end, in the state
// that the run's folder is named after.
RecoverOptions meant(RecoverOptions options) {
    std::error_code ignored;
    if (std::filesystem::exists(options.folder, ignored)) return options;
    const auto runs = kept_runs(options.entering.work, options.folder.string());
    for (auto run = runs.rbegin(); run != runs.rend(); ++run) {
        if (run->complete) continue;
        options.folder = run->folder;
        options.as_left = options.as_left || run->as_left;
        break;
    }
    return options;
}

// What is advised is also taken.
std::string what_can_be_done(const bench::OpenRun& open, const std::filesystem::path& journal) {
    if (!open.run.begun)
        return open.journal.closed ? "calibrate into another folder"
                                   : "--close ends it as incomplete; calibrate into another folder";
    const std::string resume = "--resume measures the steps that are missing, ";
    return resume + (open.journal.closed
                         ? "tipwright evaluate " + journal.string() + " computes what was measured"
                         : "--close ends it as incomplete");
}

ExitCode recover(const CommonOptions& common, const RecoverOptions& asked) {
    RecoverOptions options = meant(asked);
    std::error_code ignored;
    if (!std::filesystem::exists(options.folder, ignored))
        return fail(
            common,
            {FaultCode::file_missing,
             "there is neither such a folder nor a run of such a gauge in " +
                 in_quotes(options.entering.work.string()) + " that is unfinished",
             options.folder.string(),
             "name the run's folder, or the work folder with --work; if its pump runs, pull its plug"},
            ExitCode::bad_input);
    const std::filesystem::path file = options.folder / journal_name;
    auto open = bench::open_run(file);
    if (!open) {
        // Of a run that goes on, or came to its end, the pump is looked after.
        const bool looked_after =
            open.fault().code == FaultCode::file_unwritable || open.fault().code == FaultCode::inconsistent;
        return fail(common, looked_after ? open.fault() : with_plug(open.fault()));
    }
    if (open->run.complete)
        return fail(common, {FaultCode::inconsistent, "the run is complete: there is nothing to recover",
                             file.string(),
                             "if its results are missing: tipwright evaluate " + file.string() + " --out " +
                                 options.folder.string()});
    const bool otherwise = options.as_left && open->run.as_left == false;
    options.as_left = open->run.as_left.value_or(options.as_left);
    PumpFound pump{"none to stop: nothing had begun"};
    std::optional<bench::BenchDescription> bench;
    if (open->run.begun) {
        auto found = bench_of(*open, options, common.templates);
        if (!found) return fail(common, with_plug(found.fault()));
        bench = std::move(*found);
        pump.words = "virtual, gone with the program";
        if (!has_virtual_links(*bench)) {
            const auto stopped =
                stop_left_pump(common, *bench, speed_of(*bench, options.speed), open->identities);
            if (!stopped) return fail(common, stopped.fault(), ExitCode::interrupted);
            pump = *stopped;
        }
    }
    const bool says_only = !options.resume && !options.close;
    if (!common.json) tell(*open, options.folder, pump.words);
    if (!pump.reached && common.json) print_to(stderr, "!! pump %s\n", pump.words.c_str());
    if (says_only) {
        if (common.json) {
            print_json(document_of(*open, options.folder, pump));
            return pump.reached ? ExitCode::incomplete : ExitCode::bench_fault;
        }
        return fail(common,
                    {FaultCode::usage, "the run is as it was; say what to do with it", "recover",
                     what_can_be_done(*open, file)},
                    pump.reached ? ExitCode::incomplete : ExitCode::bench_fault);
    }
    if (otherwise) return fail(common, as_found_not_left(file));
    if (options.close) return close_it(common, options, std::move(*open), pump);
    if (!open->run.begun) {
        return fail(common,
                    {FaultCode::inconsistent, "nothing was measured, and the journal may lack descriptions",
                     file.string(), "calibrate into another folder"});
    }
    if (!pump.reached) {
        return fail(common,
                    {FaultCode::link_lost, "it was not reached: " + pump.why, "pump",
                     "pull its plug if it turns; check its cable, then recover again"},
                    ExitCode::bench_fault);
    }
    return resume_run(common, options, std::move(*open), std::move(*bench));
}

bool told_to_go_on(const CommonOptions& common, const Fault& fault) {
    if (fault.code != FaultCode::link_lost) return false;
    if (common.json || ::isatty(STDIN_FILENO) == 0 || ::isatty(STDERR_FILENO) == 0) return false;
    // What was typed while water flowed is no answer to this.
    ::tcflush(STDIN_FILENO, TCIFLUSH);
    print_to(
        stderr,
        "\nThe %s: %s.\nCheck that the pump has stopped, that the %s of this bench is on its cable again, "
        "and that all else is as it was.\nGo on with the run? y, or Enter alone to leave it as it is: ",
        fault.where, fault.what, fault.where);
    std::string line;
    std::getline(std::cin, line);
    std::cin.clear();
    return line == "y" || line == "Y" || line == "yes";
}

}  // namespace

ExitCode tell_end(const CommonOptions& common, const RecoverOptions& options, const bench::RunEnd& end,
                  std::size_t steps, const std::string& serial) {
    const ExitCode code = tell_outcome(common, {options.folder, options.paper, options.as_left}, end, steps);
    if (!end.complete && told_to_go_on(common, *end.fault)) {
        RecoverOptions again = options;
        again.resume = true;
        return recover(common, again);
    }
    if (code != ExitCode::done || !options.entering.enter) return code;
    return tell_entered(common, options.entering, serial, options.folder, options.as_left);
}

void add_recover(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "recover",
        "Handle an unfinished run: stop its pump, report what was kept, resume or close it", recover);
    command
        .add_option("folder", options->folder,
                    "Folder of the run, or the serial of a gauge with one in the work folder")
        .required()
        .type_name("DIR|SERIAL");
    add_work_folder(command, options->entering.work);
    add_enter(command, options->entering);
    auto resume = command.add_flag("--resume", options->resume, "Measure the missing steps");
    command.add_flag("--close", options->close, "End the run as incomplete").excludes(resume);
    command.add_option("--bench", options->bench, "Description of the same bench, if its links have changed")
        .type_name("FILE");
    command.add_option("--speed", options->speed, "Speed of a virtual bench, as for calibrate")
        .in_range(0.1, 100.0);
    command
        .add_option("--side-up", options->side_up,
                    "Side of the bucket that is up now (default: found from the earlier tips)")
        .one_of({"A", "B"});
    command.add_flag(
        "--as-left", options->as_left,
        "The gauge was measured after adjustment; only for a journal of version 1.0, later ones state it");
    add_paper(command, *options);
}

}  // namespace tipwright::program
