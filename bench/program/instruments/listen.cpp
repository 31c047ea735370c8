#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/links/link_kinds.hpp"
#include "bench/program/command.hpp"
#include "bench/program/instruments/commands.hpp"
#include "bench/program/instruments/learn_profile.hpp"
#include "bench/program/instruments/listen_session.hpp"
#include "bench/program/instruments/sent_unguarded.hpp"
#include "bench/program/instruments/traffic_view.hpp"
#include "bench/program/run/drive.hpp"
#include "bench/program/terminal.hpp"
#include "bench/run/run.hpp"

namespace tipwright::program {

namespace {

struct ListenOptions {
    std::string link;     // as in a bench description, or "replay FILE"
    std::string profile;  // empty: bytes only
    std::string bench;    // instead of link and profile
    std::string role;
    ListenWork work;
    double duration_s = 10;
    std::filesystem::path learn;   // writes a profile there
    std::optional<double> mass_g;  // to be laid on
};

namespace asio = boost::asio;

constexpr double listen_hang_s = 2;

Result<ListenTarget> target_of(const CommonOptions& common, const ListenOptions& options) {
    ListenTarget target{options.link, std::nullopt};
    std::string profile = options.profile;
    if (options.link.empty() && !options.bench.empty()) {
        const auto bench = bench::load_bench(options.bench, common.templates);
        if (!bench) return bench.fault();
        const auto found = std::find_if(bench->instruments.begin(), bench->instruments.end(),
                                        [&](const auto& one) { return one.role == options.role; });
        if (found == bench->instruments.end()) {
            return Fault{FaultCode::usage, "--bench needs --role with one of its instruments", "command line",
                         "add for example --role balance"};
        }
        target.link = found->link;
        if (profile.empty()) profile = found->profile;
    }
    if (target.link.empty())
        return Fault{FaultCode::usage, "no link is given", "command line",
                     "give --link, or --bench and --role"};
    if (target.link == "virtual") {
        return Fault{FaultCode::usage, "a virtual instrument lives inside a run and cannot be listened to",
                     "--bench", "start 'tipwright serve' and give the bench it writes"};
    }
    if (!profile.empty()) {
        auto loaded = bench::load_profile(profile, common.templates);
        if (!loaded) return loaded.fault();
        target.profile = std::move(*loaded);
    }
    return target;
}

Outcome check_bytes(const std::vector<std::string>& texts, const char* option) {
    for (const std::string& text : texts) {
        if (bench::unescaped_bytes(text)) continue;
        return Fault{FaultCode::bad_value, in_quotes(text) + " has an invalid escape", option,
                     "write \\r, \\n, \\t, \\\\, \\\" or \\x and two hexadecimal digits"};
    }
    return Done{};
}

std::optional<Fault> verdict_of(const ListenTarget& target, const ListenSession& session,
                                const TrafficView& view) {
    if (session.recording_failed())
        return Fault{FaultCode::disk_full, "the recording could not be written", "--record",
                     "free space on the disk"};
    // A recording that has come to its end is no fault of anybody.
    const bool played = target.replays() && view.understood() > 0;
    if (session.failure() && !played) return session.failure();
    if (view.bytes_came() == 0 && view.understood() == 0) {
        return Fault{
            FaultCode::no_answer, "nothing came", target.link,
            "check power, cable and line speed; an instrument that must be asked needs --ask or --send"};
    }
    if (target.profile && view.understood() == 0) {
        return Fault{FaultCode::garbled_answer, "the profile understood nothing of what came", target.link,
                     "see the hints, each shown once; many bytes above 7F mean a wrong line speed or parity"};
    }
    return std::nullopt;
}

ExitCode listen(const CommonOptions& common, const ListenOptions& options) {
    if (Outcome good = check_bytes({options.work.stop}, "--stop"); !good) return fail(common, good.fault());
    if (!options.learn.empty())
        return learn_profile(common, {options.link, options.bench, options.role, options.work.send,
                                      options.duration_s, options.work.serial, options.learn, options.mass_g,
                                      options.work.no_pump, options.work.stop});
    const auto target = target_of(common, options);
    if (!target) return fail(common, target.fault());
    if (Outcome good = check_bytes(options.work.send, "--send"); !good) return fail(common, good.fault());
    if (!options.work.stop.empty() && target->profile)
        return fail(common, {FaultCode::usage, "--stop is for a link without a profile", "command line",
                             "leave it out: the profile says how its instrument is stopped"});

    asio::io_context context(1);
    const auto clock = bench::make_wall_clock(context);
    // A terminal that takes nothing must not hold up who may have set a pump going.
    std::optional<Display> screen;
    if (!options.work.send.empty()) screen.emplace(STDOUT_FILENO);
    std::FILE* const out = screen ? screen->stream() : stdout;
    TrafficView view(target->profile ? bench::make_interpreter(*target->profile) : nullptr, common.json, out);
    Display display(STDERR_FILENO);
    bench::Supervision supervision(context, supervision_of(listen_hang_s, display, {}));
    bench::RunControl control;
    supervision.enter(control, {});
    control.notify_with([&clock] { clock->stop(); });
    ListenSession session(context, *clock, supervision, control, display, options.work, view);
    if (Outcome started = session.start(*target); !started) {
        const bool of_the_bench = started.fault().code == FaultCode::link_lost;
        return fail(common, started.fault(), of_the_bench ? ExitCode::bench_fault : ExitCode::bad_input);
    }
    supervision.begin();
    const auto end_in_time = [&]() -> bench::Task<void> {
        co_await clock->sleep_for(options.duration_s);
        session.end();
    };
    asio::co_spawn(context, end_in_time, asio::detached);
    clock->run();
    const bool stopped = session.pump_stopped();
    if (!options.work.stop.empty()) supervision.stop_pumps();
    supervision.end();
    session.close();
    if (stopped)
        display.say("The pump was told to stop, and it answered.\n");
    else if (!options.work.stop.empty())
        display.say(stop_went_out);
    else if (!options.work.send.empty() && !target->is_pump())
        display.cry(std::string("!! ") + sent_unguarded + "\n");
    suspend_if_asked(supervision, display);
    display.finish();

    if (const auto wrong = verdict_of(*target, session, view))
        return fail(common, *wrong,
                    control.requested()               ? ExitCode::interrupted
                    : wrong->code == FaultCode::usage ? ExitCode::bad_input
                                                      : ExitCode::bench_fault);
    if (common.json) {
        const nlohmann::ordered_json document = {{"ok", true},
                                                 {"link", target->link},
                                                 {"understood", view.understood()},
                                                 {"not_understood", view.not_understood()},
                                                 {"traffic", view.json()}};
        print_json(document);
    } else if (target->profile) {
        print_to(out, "\n%d understood, %d not\n", view.understood(), view.not_understood());
    }
    return control.requested() ? ExitCode::interrupted : ExitCode::done;
}

}  // namespace

void add_listen(CommandLine& line) {
    const auto [command, options] = add_command(
        line, line.app, "listen",
        "Show the bytes on a link and what a profile reads from them, or write a profile", listen);
    std::string forms;
    for (const std::string& form : bench::link_forms()) forms += form + ", ";
    auto link = command.add_option("--link", options->link, forms + "\"replay FILE\"");
    command.add_option("--profile", options->profile, "Instrument profile (default: bytes only)")
        .type_name("FILE");
    command.add_option("--bench", options->bench, "Take link and profile from a bench description")
        .type_name("FILE")
        .excludes(link);
    auto learn = command
                     .add_option("--learn", options->learn,
                                 "Write a profile, from the bytes and from what you do when asked")
                     .type_name("FILE")
                     .excludes("--profile");
    command.add_option("--role", options->role, "Which instrument of that bench, or which kind to learn")
        .one_of({"balance", "pump", "counter", "climate"});
    command.add_option("--mass-g", options->mass_g, "Known mass that you will put on, g")
        .in_range(0.01, 1e6)
        .needs(learn);
    add_force(command, options->learn).description("Overwrite an existing profile").needs(learn);
    command
        .add_option("--ask", options->work.ask,
                    "Messages of the profile to send, in this order; the last one is repeated")
        .one_of({"identify", "read", "tare", "stop"});
    auto send = command
                    .add_option("--send", options->work.send,
                                "Bytes to send first, with \\r \\n \\x1B; one message a second")
                    .type_name("TEXT");
    auto stop = command
                    .add_option("--stop", options->work.stop,
                                "Without a profile: bytes that stop the pump, sent however this ends")
                    .needs(send)
                    .type_name("TEXT");
    command
        .add_flag("--no-pump", options->work.no_pump, "Without a profile: what --send goes to is not a pump")
        .needs(send)
        .excludes(stop);
    command
        .add_option("--for", options->duration_s,
                    "How long to listen, s; with --learn: how long for each thing you are asked to do")
        .in_range(0.1, 1e6)
        .show_default();
    command.add_option("--lines", options->work.lines, "End after this many lines have been understood")
        .in_range(1, 1000000);
    command.add_option("--record", options->work.record, "Keep the traffic in a file that can be replayed")
        .type_name("FILE");
    command.add_option("--baud", options->work.serial.baud, "Line speed, without a profile")
        .in_range(300, 4000000)
        .show_default();
}

}  // namespace tipwright::program
