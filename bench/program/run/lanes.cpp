// lanes: up to 16 gauges side by side, each on a bench of its own, in one program. A fault of one lane ends
// that lane alone; Ctrl-C stops every pump.
#include <unistd.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <charconv>
#include <cstdio>
#include <future>
#include <map>
#include <nlohmann/json.hpp>

#include "bench/descriptions/lanes.hpp"
#include "bench/links/link_lock.hpp"
#include "bench/program/command.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/run/commands.hpp"
#include "bench/program/run/drive.hpp"
#include "bench/program/run/enter_result.hpp"
#include "bench/program/run/lane_results.hpp"
#include "bench/program/run/lanes_round.hpp"
#include "bench/program/run/lanes_view.hpp"
#include "bench/program/run/run_outcome.hpp"
#include "bench/program/run/runs_elsewhere.hpp"
#include "bench/program/terminal.hpp"
#include "bench/run/recovery.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct LanesOptions {
    std::string lanes;
    std::filesystem::path out;    // a folder for each lane in it; empty: runs in the work folder, by serial
    std::optional<double> speed;  // as of calibrate
    std::string started_at;
    std::string paper = "A4";
    std::string reason;  // why overdue calibrations and failed checks are accepted
    EnterOptions entering;
};

struct OneLane {
    bench::LaneDescription described;
    std::filesystem::path folder;
    std::optional<Descriptions> given;
    std::string started_at;
    std::optional<bench::OpenRun>
        open;                   // of a run that the same command began and that did not come to its end
    bool was_complete = false;  // by the same command, before
    std::unique_ptr<LaneRun> run;
    std::future<LaneEnd> computing;  // results, beside the other lanes' water
    LaneEnd end;
};

// No two lanes may speak to one instrument, by whatever names.
Outcome check_links(const std::vector<OneLane>& lanes) {
    struct User {
        const OneLane* lane;
        std::string link;
    };
    std::map<std::string, User> taken;
    for (const auto& lane : lanes) {
        for (const auto& instrument : lane.given->bench.instruments) {
            const std::string& link = instrument.link;
            if (link == "virtual") continue;
            const auto [other, is_new] = taken.emplace(bench::device_of(link), User{&lane, link});
            // What is twice on one bench its own lock refuses.
            if (is_new || other->second.lane == &lane) continue;
            const std::string names =
                in_quotes(other->second.link) + (other->second.link == link ? "" : " and " + in_quotes(link));
            return Fault{FaultCode::duplicate,
                         "lanes " + other->second.lane->described.name + " and " + lane.described.name +
                             " share the link " + names,
                         lane.given->bench.text.name, "give each lane instruments of its own"};
        }
    }
    return Done{};
}

// Makes the folder of each lane's run.
Outcome place(const LanesOptions& options, std::vector<OneLane>& lanes) {
    if (!options.out.empty()) {
        for (OneLane& lane : lanes) {
            lane.folder = options.out / lane.described.name;
            if (auto made = make_folder(lane.folder); !made) return made.fault();
        }
        return Done{};
    }
    std::vector<RoundLane> wanted;
    for (const OneLane& lane : lanes) {
        const auto started_at = start_moment(lane.given->bench, options.started_at);
        if (!started_at) return started_at.fault();
        wanted.push_back({lane.described.name, lane.given->gauge.serial, started_at->substr(0, 10),
                          lane.described.as_left});
    }
    const auto folders = folders_of_round(options.entering.work, options.lanes, wanted);
    if (!folders) return folders.fault();
    for (std::size_t k = 0; k < lanes.size(); ++k) lanes[k].folder = (*folders)[k];
    return Done{};
}

Result<std::vector<OneLane>> load(const CommonOptions& common, const LanesOptions& options,
                                  const bench::LanesDescription& described) {
    std::vector<OneLane> lanes(described.lanes.size());
    for (std::size_t k = 0; k < lanes.size(); ++k) {
        OneLane& lane = lanes[k];
        lane.described = described.lanes[k];
        auto given = load_descriptions({lane.described.bench, lane.described.gauge, lane.described.plan},
                                       common.templates);
        if (!given) {
            given.fault().what = "lane " + lane.described.name + ": " + given.fault().what;
            return given.fault();
        }
        if (options.speed && !given->bench.truth) {
            return Fault{FaultCode::usage, "--speed is for virtual benches; real water runs at its own",
                         "lane " + lane.described.name, "leave it out"};
        }
        lane.given = std::move(*given);
    }
    if (auto apart = check_links(lanes); !apart) return apart.fault();
    if (auto placed = place(options, lanes); !placed) return placed.fault();
    return lanes;
}

// What the same command left when it was broken off: runs that are complete stay, those that are not are
// resumed. Gives the bench time at which the clock begins.
double look_at_what_is_there(std::vector<OneLane>& lanes) {
    double start_s = 0;
    for (OneLane& lane : lanes) {
        std::error_code ignored;
        if (!std::filesystem::exists(lane.folder / journal_name, ignored)) continue;
        auto open = bench::open_run(lane.folder / journal_name);
        if (!open) {
            lane.was_complete = open.fault().code == FaultCode::inconsistent;
            if (!lane.was_complete) lane.end.fault = open.fault();
            continue;
        }
        const std::string where = (lane.folder / journal_name).string();
        if (!open->run.begun) {
            lane.end.fault = Fault{FaultCode::file_unwritable, "nothing was measured there", where,
                                   "remove its folder, and give the same command again"};
        } else if (open->run.plan.text.text != lane.given->plan.text.text ||
                   open->run.gauge.text.text != lane.given->gauge.text.text ||
                   open->run.gauge.kind_text.text != lane.given->gauge.kind_text.text) {
            lane.end.fault = Fault{FaultCode::inconsistent, "the run there is of another gauge or plan",
                                   where, "see 'tipwright recover " + lane.folder.string() + "'"};
        } else if (open->run.as_left.value_or(lane.described.as_left) != lane.described.as_left) {
            lane.end.fault = Fault{FaultCode::inconsistent,
                                   std::string("the run there was begun as ") +
                                       (lane.described.as_left ? "found, not as left" : "left, not as found"),
                                   where, "see 'tipwright recover " + lane.folder.string() + "'"};
        } else {
            start_s = std::max(start_s, bench_time_to_resume_s(*open));
            lane.open = std::move(*open);
        }
    }
    // Bench time of a new run begins at 0: it waits for those that go on.
    if (start_s > 0)
        for (OneLane& lane : lanes)
            if (!lane.open && !lane.was_complete && !lane.end.fault)
                lane.end.fault =
                    Fault{FaultCode::interrupted, "it had not begun, and waits for the lanes that go on",
                          "lane " + lane.described.name, "give the same command again after them"};
    return start_s;
}

// Those that came to their end now, one after the other. Which did not enter, and why.
std::vector<std::pair<std::string, Fault>> enter_lanes(const CommonOptions& common,
                                                       const LanesOptions& options,
                                                       std::vector<OneLane>& lanes) {
    std::vector<std::pair<std::string, Fault>> out;
    if (!options.entering.enter) return out;
    for (OneLane& lane : lanes) {
        if (lane.end.fault || lane.was_complete || !lane.run) continue;
        const auto entered = enter_result(common, options.entering, lane.run->given().gauge.serial,
                                          lane.folder, lane.described.as_left);
        if (entered)
            lane.end.entered = *entered;
        else
            out.emplace_back(lane.described.name, entered.fault());
    }
    return out;
}

ExitCode code_of(const std::vector<OneLane>& lanes) {
    ExitCode code = ExitCode::done;
    for (const auto& lane : lanes) {
        if (!lane.end.fault) continue;
        const ExitCode own = exit_code_of(*lane.end.fault);
        // A lane that failed says more than lanes that were stopped.
        if (code == ExitCode::done || own == ExitCode::bench_fault) code = own;
    }
    return code;
}

// What is left of a lane that did not come to its end; the error itself is told on a line of its own.
std::string kept(const OneLane& lane) {
    if (!lane.run || lane.run->end().complete) return "";
    return "; kept: " + std::to_string(lane.run->end().steps_done) + " of " +
           std::to_string(lane.run->given().plan.plan.steps.size()) +
           " steps; the same command goes on, or tipwright recover " + lane.folder.string();
}

void tell(const CommonOptions& common, const std::vector<OneLane>& lanes, ExitCode code) {
    if (!common.json) {
        print_to(stdout, "\n");
        for (const auto& lane : lanes) {
            if (lane.end.fault) {
                print_to(stdout, "%-20s no certificate%s\n", lane.described.name.c_str(), kept(lane).c_str());
            } else {
                print_to(stdout, "%-20s %s: %s%s\n", lane.described.name.c_str(), lane.end.verdict.c_str(),
                         lane.folder.c_str(), lane.end.entered.empty() ? "" : "; " + lane.end.entered);
            }
        }
        return;
    }
    nlohmann::ordered_json document = {{"ok", code == ExitCode::done}};
    auto& list = document["lanes"] = nlohmann::ordered_json::array();
    for (const auto& lane : lanes) {
        nlohmann::ordered_json row = {{"lane", lane.described.name}, {"ok", !lane.end.fault}};
        if (lane.end.fault) {
            row["fault"] = {{"code", name_of(lane.end.fault->code)}, {"line", lane.end.fault->line()}};
        } else {
            row["verdict"] = lane.end.verdict;
            if (!lane.end.entered.empty()) row["register"] = lane.end.entered;
        }
        for (const auto& file : lane.end.files) row["files"][file.what] = file.file.string();
        list.push_back(row);
    }
    print_json(document);
}

ExitCode run_lanes(const CommonOptions& common, const LanesOptions& options) {
    const auto described = bench::load_lanes(options.lanes, common.templates);
    if (!described) return fail(common, described.fault());
    auto loaded = load(common, options, *described);
    if (!loaded) return fail(common, loaded.fault());
    std::vector<OneLane>& lanes = *loaded;
    const double start_s = look_at_what_is_there(lanes);

    const bool all_inside = std::all_of(
        lanes.begin(), lanes.end(), [](const OneLane& lane) { return has_virtual_links(lane.given->bench); });
    const bool lockstep = all_inside && !options.speed;
    double hang_s = 30;
    for (const auto& lane : lanes) hang_s = std::min(hang_s, lane.given->bench.limits.hang_s);

    std::fflush(stdout);
    Display display(common.json ? STDERR_FILENO : STDOUT_FILENO, common.json ? -1 : STDERR_FILENO);
    std::vector<std::string> names;
    names.reserve(lanes.size());
    for (const auto& lane : lanes) names.push_back(lane.described.name);
    LanesView view(display, names);
    if (!all_inside) view.message(safety_words);
    view.head(described->title);

    boost::asio::io_context context(1);
    const auto clock = clock_of(context, all_inside, lanes.front().given->bench, options.speed, start_s);
    bench::Supervision supervision(
        context, supervision_of(all_inside ? 0 : hang_s, display, [&view] { view.message(stopping_words); }));
    std::vector<DrivenLane> driven;
    for (std::size_t k = 0; k < lanes.size(); ++k) {
        OneLane& lane = lanes[k];
        if (lane.end.fault) {
            view.failed(k, *lane.end.fault);
            continue;
        }
        if (lane.was_complete) {
            view.complete(k, lane.folder.string());
            lane.computing = compute_beside(common, {lane.folder, options.paper, lane.described.as_left});
            continue;
        }
        const auto started_at = lane.open ? Result<std::string>(lane.open->run.started_at)
                                          : start_moment(lane.given->bench, options.started_at);
        if (!started_at) return fail(common, started_at.fault());
        lane.started_at = *started_at;
        const auto readiness =
            readiness_of_bench(lane.described.bench, lane.given->bench, *started_at, options.reason);
        if (!readiness) {
            lane.end.fault = readiness.fault();
            view.failed(k, readiness.fault());
            continue;
        }
        if (auto enters = check_entering(options.entering, lane.given->bench, lane.given->gauge, *started_at);
            !enters) {
            lane.end.fault = enters.fault();
            view.failed(k, enters.fault());
            continue;
        }
        for (const std::string& text : readiness->told) view.message(k, text);
        LaneOptions lane_options;
        lane_options.concessions = readiness->concessions;
        lane_options.pump_scale = readiness->pump_scale;
        lane_options.templates = common.templates;
        lane_options.folder = lane.folder;
        lane_options.seed = lane.described.seed;
        lane_options.as_left = lane.described.as_left;
        lane_options.started_at = *started_at;
        lane_options.durable = !lockstep;
        lane_options.supervision = &supervision;
        if (lane.open) {
            view.message(k, "goes on from step " + std::to_string(lane.open->first_step) + ".");
            lane.given->gauge = lane.open->run.gauge;
            lane.given->plan = lane.open->run.plan;
            const std::string& seed = lane.open->run.seed;
            std::from_chars(seed.data(), seed.data() + seed.size(), lane_options.seed);
        }
        auto run = lane.open ? LaneRun::resume(context, *clock, std::move(*lane.given), std::move(*lane.open),
                                               lane_options)
                             : LaneRun::begin(context, *clock, std::move(*lane.given), lane_options);
        if (!run) {
            lane.end.fault = run.fault();
            view.failed(k, run.fault());
            continue;
        }
        lane.run = std::move(*run);
        if (auto noted = note_run(options.entering.work, lane.run->given().gauge.serial, lane.folder); !noted)
            view.message(k, not_noted(options.entering.work, noted.fault()));
        bench::RunCallbacks callbacks;
        callbacks.progress = [&view, k](const bench::Progress& progress) { view.show(k, progress); };
        callbacks.message = [&view, k](const std::string& text) { view.message(k, text); };
        const auto ended = [&, k] {
            OneLane& one = lanes[k];
            const bench::RunEnd& end = one.run->end();
            if (!end.complete) {
                view.failed(k, *end.fault);
                one.end.fault = end.fault;
                return;
            }
            view.complete(k, one.folder.string());
            one.computing = compute_beside(common, {one.folder, options.paper, one.described.as_left});
        };
        driven.push_back({*lane.run, callbacks, ended});
    }
    drive(context, *clock, std::move(driven), supervision);
    view.finish();
    suspend_if_asked(supervision, display);
    for (std::size_t k = 0; k < lanes.size(); ++k) {
        const OneLane& lane = lanes[k];
        if (!lane.run) continue;
        if (const auto lost = keep_pump_hours(lane.described.bench, {}, lane.run->given().bench,
                                              lane.folder / journal_name, lane.started_at))
            view.message(k, *lost);
    }
    for (auto& lane : lanes) {
        if (lane.computing.valid()) lane.end = lane.computing.get();
    }
    ExitCode code = code_of(lanes);
    if (options.out.empty() && code == ExitCode::done) end_round(options.entering.work, options.lanes);
    const auto not_entered = enter_lanes(common, options, lanes);
    if (!not_entered.empty() && code == ExitCode::done) code = ExitCode::refused;
    display.finish();
    tell(common, lanes, code);
    for (const auto& lane : lanes) {
        if (!lane.end.fault) continue;
        print_to(stderr, "tipwright: lane %s: %s\n", lane.described.name.c_str(),
                 lane.end.fault->line().c_str());
    }
    for (const auto& [name, fault] : not_entered)
        print_to(stderr, "tipwright: lane %s: %s\n", name, fault.line());
    return code;
}

}  // namespace

void add_lanes(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "lanes", "Calibrate up to 16 gauges side by side, each on its own bench", run_lanes);
    command.add_option("lanes", options->lanes, "List of lanes: which gauge is on which bench")
        .required()
        .type_name("FILE");
    command
        .add_option("--out", options->out,
                    "Folder in which each lane gets its own folder (default: new ones in the work folder)")
        .type_name("DIR");
    add_work_folder(command, options->entering.work);
    command.add_option("--speed", options->speed, "Speed of virtual benches, as for calibrate")
        .in_range(0.1, 100.0);
    command
        .add_option("--started-at", options->started_at,
                    "Start of virtual runs, such as 2026-11-02T08:00:00Z")
        .type_name("TIME");
    command
        .add_option("--reason", options->reason,
                    "Accept overdue calibrations or failed balance checks, for this reason")
        .type_name("TEXT");
    add_paper(command, *options);
    add_enter(command, options->entering);
}

}  // namespace tipwright::program
