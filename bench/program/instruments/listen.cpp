#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <variant>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/instruments/make.hpp"
#include "bench/instruments/modem_contacts/instruments.hpp"
#include "bench/instruments/stop_messages.hpp"
#include "bench/program/command.hpp"
#include "bench/program/instruments/asked_instrument.hpp"
#include "bench/program/instruments/commands.hpp"
#include "bench/program/instruments/learn_profile.hpp"
#include "bench/program/instruments/lone_pump.hpp"
#include "bench/program/instruments/sent_unguarded.hpp"
#include "bench/program/instruments/traffic_recorder.hpp"
#include "bench/program/instruments/traffic_view.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/run/drive.hpp"
#include "bench/program/terminal.hpp"
#include "bench/run/run.hpp"
#include "bench/run/water_guard.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct ListenOptions {
    std::string link;     // as in a bench description, or "replay FILE"
    std::string profile;  // empty: bytes only
    std::string bench;    // instead of link and profile
    std::string role;
    std::vector<std::string> send;  // with \r, \n, \x1B
    std::string stop;               // likewise, at the end; without a profile
    bool no_pump = false;           // what is sent to, by the person's word
    std::vector<std::string> ask;   // identify, read, tare, stop
    double duration_s = 10;
    std::optional<int> lines;  // ends after so many that were understood
    std::filesystem::path record;
    bench::SerialSettings serial;  // without a profile
    std::filesystem::path learn;   // writes a profile there
    std::optional<double> mass_g;  // to be laid on
};

namespace asio = boost::asio;

constexpr std::string_view replay_prefix = "replay ";
constexpr double pause_between_questions_s = 1;
constexpr double listen_hang_s = 2;

// What is listened to, worked out from the options.
struct Target {
    std::string link;
    std::optional<bench::InstrumentProfile> profile;
};

Result<Target> target_of(const CommonOptions& common, const ListenOptions& options) {
    Target target{options.link, std::nullopt};
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

Result<std::unique_ptr<bench::Link>> open_link(asio::io_context& context, bench::Clock& clock,
                                               const Target& target, const ListenOptions& options) {
    if (!target.link.starts_with(replay_prefix))
        return bench::make_link(context, target.link,
                                target.profile ? target.profile->serial : options.serial);
    const std::string file = target.link.substr(replay_prefix.size());
    const auto text = read_file(file);
    if (!text) return text.fault();
    auto traffic = bench::parse_traffic(*text, file);
    if (!traffic) return traffic.fault();
    return bench::replay_link(std::move(*traffic), clock, file);
}

class Session {
public:
    Session(asio::io_context& context, bench::Clock& clock, bench::Supervision& supervision,
            bench::RunControl& control, Display& display, const ListenOptions& options, TrafficView& view)
        : context_(context),
          clock_(clock),
          supervision_(supervision),
          control_(control),
          display_(display),
          options_(options),
          view_(view) {}

    Outcome start(const Target& target) {
        const bool sends_to_pump =
            target.profile && target.profile->role == bench::Role::pump && !options_.send.empty();
        if (!options_.send.empty() && !sends_to_pump) {
            const auto right = right_to_send(options_.no_pump || target.profile, options_.stop);
            if (!right) return right.fault();
            own_ = *right;
        }
        auto link = open_link(context_, clock_, target, options_);
        if (!link) return link.fault();
        if (!options_.record.empty()) {
            if (Outcome opened = recorder_.open(options_.record, target.link,
                                                target.profile ? target.profile->text.name : std::string());
                !opened)
                return opened;
        }
        if (sends_to_pump) link = supervision_.guard(std::move(*link), bench::stop_messages(*target.profile));
        if (!options_.stop.empty())
            link = supervision_.guard(std::move(*link), {*bench::unescaped_bytes(options_.stop)});
        // A cable that was pulled is put back; a recording only ends once.
        ends_with_link_ = !(*link)->can_reopen();
        if (target.profile && target.profile->of<bench::ModemContactsProfile>()) {
            auto made = bench::make_tip_counter(*target.profile, std::move(*link), clock_, context_);
            if (!made) return made.fault();
            counter_ = std::move(*made);
            asio::co_spawn(context_, watch_contacts(), asio::detached);
            return Done{};
        }
        auto tapped = bench::tap_link(std::move(*link), clock_,
                                      [this](const bench::TrafficEntry& entry) { see(entry); });
        if (sends_to_pump && options_.ask.empty()) return work_pump(*target.profile, std::move(tapped));
        std::vector<std::string> questions = options_.ask;
        if (questions.empty() && options_.send.empty() && target.profile)
            questions = default_questions(*target.profile);
        if (questions.empty()) {
            link_ = std::move(tapped);
            asio::co_spawn(context_, read_on(), asio::detached);
            if (own_) asio::co_spawn(context_, send_all(*own_), asio::detached);
            return Done{};
        }
        if (!target.profile || !options_.send.empty())
            return Fault{FaultCode::usage, "--ask needs a profile, and excludes --send", "command line",
                         "give --profile, or --send alone"};
        if (Outcome made = asked_.make(*target.profile, std::move(tapped), clock_, context_); !made)
            return made;
        asio::co_spawn(context_, ask_on(std::move(questions)), asio::detached);
        return Done{};
    }

    const std::optional<Fault>& failure() const { return failure_; }
    bool recording_failed() const { return recorder_.failed(); }
    // What was sent may have started a pump: it was stopped at the end, and answered.
    bool pump_stopped() const { return lone_ && !failure_; }
    void end() {
        over_ = true;
        if (lone_)
            ended_.notify();
        else
            clock_.stop();
    }
    void close() {
        counter_.reset();
        lone_.reset();
        asked_ = {};
        if (link_) link_->close();
    }

private:
    // Bytes of somebody's own to a pump may set any flow: they go out under the guard, and the pump is
    // stopped at the end.
    Outcome work_pump(const bench::InstrumentProfile& profile, std::unique_ptr<bench::Link> link) {
        bench::Link* const raw = link.get();
        auto pump = bench::make_pump(profile, std::move(link), clock_, context_);
        if (!pump) return pump.fault();
        lone_ = std::make_unique<LonePump>(
            context_, clock_, std::move(*pump), supervision_, control_,
            [this](const std::string& text) { display_.cry("!! " + visible(text) + "\n"); });
        const auto send = [this, raw]() -> bench::Task<Outcome> {
            auto permit = co_await lone_->guard().take();
            if (!permit) co_return permit.fault();
            for (const std::string& text : options_.send) {
                const auto bytes = bench::unescaped_bytes(text);
                const Outcome sent =
                    co_await lone_->guard().let_send(*permit, *raw, std::as_bytes(std::span(*bytes)));
                if (!sent) co_return sent;
                co_await clock_.sleep_for(pause_between_questions_s);
            }
            while (!over_) co_await ended_.wait();
            co_return Done{};
        };
        const auto perform = [this, send]() -> bench::Task<void> {
            const Outcome done = co_await lone_->carry_out(send);
            if (!done && done.fault().code != FaultCode::interrupted) failure_ = done.fault();
            clock_.stop();
        };
        // The coroutine's own copy must outlive it.
        pump_work_ = perform;
        asio::co_spawn(context_, pump_work_(), [this](const std::exception_ptr& error) {
            if (error) clock_.stop();
        });
        return Done{};
    }

    void see(const bench::TrafficEntry& entry) {
        recorder_.add(entry);
        view_.show(entry);
        if (entry.way == bench::TrafficWay::lost && ends_with_link_) end();
        if (options_.lines && view_.understood() >= *options_.lines) end();
    }

    bench::Task<void> watch_contacts() {
        while (true) {
            const Result<bench::ContactEdge> edge = co_await counter_->next();
            if (!edge) {
                failure_ = edge.fault();
                clock_.stop();
                co_return;
            }
            view_.note(edge->time_s,
                       "contact " + std::to_string(edge->contact) + (edge->closed ? " closed" : " opened"));
            if (options_.lines && view_.understood() >= *options_.lines) clock_.stop();
        }
    }

    bench::Task<void> read_on() {
        std::vector<std::byte> buffer(4096);
        while (true) {
            const Result<std::size_t> got = co_await link_->read_some(buffer);
            if (got) continue;
            clock_.stop();
            co_return;
        }
    }

    bench::Task<void> send_all(bench::UnguardedRight own) {
        for (const std::string& text : options_.send) {
            const auto bytes = bench::unescaped_bytes(text);
            const Outcome sent = co_await own.send(*link_, std::as_bytes(std::span(*bytes)));
            if (!sent) co_return;
            co_await clock_.sleep_for(pause_between_questions_s);
        }
    }

    bench::Task<void> ask_on(std::vector<std::string> questions) {
        for (std::size_t i = 0;; i = std::min(i + 1, questions.size() - 1)) {
            failure_ = co_await asked_.ask(questions[i]);
            if (failure_ && (failure_->code == FaultCode::usage || failure_->code == FaultCode::link_lost ||
                             failure_->code == FaultCode::inconsistent)) {
                clock_.stop();
                co_return;
            }
            const bool last = i + 1 == questions.size();
            if (last && questions[i] != "read") co_return;
            co_await clock_.sleep_for(pause_between_questions_s);
        }
    }

    asio::io_context& context_;
    bench::Clock& clock_;
    bench::Supervision& supervision_;
    bench::RunControl& control_;
    Display& display_;
    const ListenOptions& options_;
    TrafficView& view_;
    TrafficRecorder recorder_;
    std::unique_ptr<bench::Link> link_;
    std::optional<bench::UnguardedRight> own_;
    AskedInstrument asked_;
    std::unique_ptr<bench::TipCounter> counter_;
    std::optional<Fault> failure_;
    bool ends_with_link_ = false;
    std::unique_ptr<LonePump> lone_;
    std::function<bench::Task<void>()> pump_work_;
    bench::Signal ended_{context_};
    bool over_ = false;
};

Outcome check_bytes(const std::vector<std::string>& texts, const char* option) {
    for (const std::string& text : texts) {
        if (bench::unescaped_bytes(text)) continue;
        return Fault{FaultCode::bad_value, in_quotes(text) + " has an invalid escape", option,
                     "write \\r, \\n, \\t, \\\\, \\\" or \\x and two hexadecimal digits"};
    }
    return Done{};
}

std::optional<Fault> verdict_of(const Target& target, const Session& session, const TrafficView& view) {
    if (session.recording_failed())
        return Fault{FaultCode::disk_full, "the recording could not be written", "--record",
                     "free space on the disk"};
    // A recording that has come to its end is no fault of anybody.
    const bool played = target.link.starts_with(replay_prefix) && view.understood() > 0;
    if (session.failure() && !played) return session.failure();
    if (view.bytes_came() == 0 && view.understood() == 0) {
        return Fault{FaultCode::no_answer, "nothing came", target.link,
                     "check power, cable and line speed; what must be asked needs --ask or --send"};
    }
    if (target.profile && view.understood() == 0) {
        return Fault{FaultCode::garbled_answer, "the profile understood nothing of what came", target.link,
                     "see the hints, each told once; many bytes above 7F mean a wrong line speed or parity"};
    }
    return std::nullopt;
}

ExitCode listen(const CommonOptions& common, const ListenOptions& options) {
    if (Outcome good = check_bytes({options.stop}, "--stop"); !good) return fail(common, good.fault());
    if (!options.learn.empty())
        return learn_profile(common,
                             {options.link, options.bench, options.role, options.send, options.duration_s,
                              options.serial, options.learn, options.mass_g, options.no_pump, options.stop});
    const auto target = target_of(common, options);
    if (!target) return fail(common, target.fault());
    if (Outcome good = check_bytes(options.send, "--send"); !good) return fail(common, good.fault());
    if (!options.stop.empty() && target->profile)
        return fail(common, {FaultCode::usage, "--stop is for a link without a profile", "command line",
                             "leave it out: the profile says how its instrument is stopped"});

    asio::io_context context(1);
    const auto clock = bench::make_wall_clock(context);
    // A terminal that takes nothing must not hold up who may have set a pump going.
    std::optional<Display> screen;
    if (!options.send.empty()) screen.emplace(STDOUT_FILENO);
    std::FILE* const out = screen ? screen->stream() : stdout;
    TrafficView view(target->profile ? bench::make_interpreter(*target->profile) : nullptr, common.json, out);
    Display display(STDERR_FILENO);
    bench::Supervision supervision(context, supervision_of(listen_hang_s, display, {}));
    bench::RunControl control;
    supervision.enter(control, {});
    control.notify_with([&clock] { clock->stop(); });
    Session session(context, *clock, supervision, control, display, options, view);
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
    if (!options.stop.empty()) supervision.stop_pumps();
    supervision.end();
    session.close();
    if (stopped)
        display.say("The pump was told to stop, and it answered.\n");
    else if (!options.stop.empty())
        display.say(stop_went_out);
    else if (!options.send.empty() && !(target->profile && target->profile->role == bench::Role::pump))
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
        "Show the bytes of a link and what a profile reads from them, to write a profile", listen);
    auto* link = command.add_option("--link", options->link,
                                    "\"serial /dev/ttyUSB0\", \"serial usb:SERIAL\", \"tcp HOST:PORT\", "
                                    "\"pty /dev/pts/3\", \"replay FILE\"");
    command.add_option("--profile", options->profile, "Instrument profile (default: bytes only)")
        ->type_name("FILE");
    command.add_option("--bench", options->bench, "Take link and profile from a bench description")
        ->type_name("FILE")
        ->excludes(link);
    auto* learn = command
                      .add_option("--learn", options->learn,
                                  "Write a profile, from the bytes and from what you do when asked")
                      ->type_name("FILE")
                      ->excludes("--profile");
    command.add_option("--role", options->role, "Instrument of that bench, or what is learned")
        ->check(CLI::IsMember({"balance", "pump", "counter", "climate"}));
    command.add_option("--mass-g", options->mass_g, "Known mass that you lay on, g")
        ->check(CLI::Range(0.01, 1e6))
        ->needs(learn);
    add_force(command, options->learn)->description("Write over the profile that is there")->needs(learn);
    command.add_option("--ask", options->ask, "Ask by the profile, in this order, again and again the last")
        ->check(CLI::IsMember({"identify", "read", "tare", "stop"}));
    auto* send =
        command
            .add_option("--send", options->send, "Send these bytes first, with \\r \\n \\x1B; one a second")
            ->type_name("TEXT");
    auto* stop = command
                     .add_option("--stop", options->stop,
                                 "Without a profile: bytes that stop a pump, sent at the end and by "
                                 "whatever ends this")
                     ->needs(send)
                     ->type_name("TEXT");
    command.add_flag("--no-pump", options->no_pump, "Without a profile: what --send goes to is no pump")
        ->needs(send)
        ->excludes(stop);
    command
        .add_option("--for", options->duration_s, "How long, s; with --learn: how long for each thing you do")
        ->check(CLI::Range(0.1, 1e6))
        ->capture_default_str();
    command.add_option("--lines", options->lines, "End when so many lines were understood")
        ->check(CLI::Range(1, 1000000));
    command.add_option("--record", options->record, "Keep the traffic in a file that can be replayed")
        ->type_name("FILE");
    command.add_option("--baud", options->serial.baud, "Line speed, without a profile")
        ->check(CLI::Range(300, 4000000))
        ->capture_default_str();
}

}  // namespace tipwright::program
