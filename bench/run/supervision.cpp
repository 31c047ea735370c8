#include "bench/run/supervision.hpp"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <exception>
#include <utility>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>

#include "bench/instruments/wake_signal.hpp"
#include "bench/run/crash_stop.hpp"
#include "bench/run/run.hpp"
#include "bench/run/watchdog.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;

constexpr int ending_signals[] = {SIGINT,  SIGTERM,   SIGHUP,  SIGQUIT, SIGUSR1, SIGUSR2, SIGXFSZ,  SIGXCPU,
                                  SIGALRM, SIGVTALRM, SIGPROF, SIGTSTP, SIGPWR,  SIGIO,   SIGSTKFLT};
// Without a watchdog the display is still looked after.
constexpr double feeding_s = 0.25;

Fault why_of(int signal) {
    const auto named = [](const char* text) { return Fault{FaultCode::interrupted, text, "run", ""}; };
    switch (signal) {
        case SIGHUP:
            return named("stopped because its terminal went away");
        case SIGTSTP:
            return named("stopped to be suspended (Ctrl-Z)");
        case SIGPWR:
            return named("stopped because the power fails");
        case SIGXFSZ:
            return {FaultCode::disk_full, "the system allows no longer file", "run",
                    "raise the limit on the size of files (ulimit -f)"};
        case SIGINT:
        case SIGTERM:
        case SIGQUIT:
            return named("stopped by the operator");
        default:
            return {FaultCode::interrupted, "stopped by signal " + std::to_string(signal), "run", ""};
    }
}

std::chrono::steady_clock::duration seconds(double s) {
    return std::chrono::duration_cast<std::chrono::steady_clock::duration>(std::chrono::duration<double>(s));
}

}  // namespace

struct Supervision::Parts {
    struct Run {
        RunControl* control;
        std::function<void(const std::string&)> remark;
        bool ready = false;
        std::vector<std::string> waiting;  // until it is
    };

    explicit Parts(asio::io_context& context, SupervisionOptions given)
        : options(std::move(given)), signals(context), feeding(context) {
        if (options.hang_s <= 0) return;
        watchdog.emplace(options.hang_s, [this] {
            if (options.cry)
                options.cry(
                    "!! The program hangs. Its watchdog has told the pumps to stop, but heard no answer: "
                    "check that they have stopped; if one runs, PULL THE PUMP'S PLUG NOW.\n");
        });
    }

    void stop_all(const Fault& why) {
        for (const Run& run : std::vector<Run>(runs)) run.control->request_stop(why);
    }

    void remark(const std::string& text) {
        for (Run& run : runs)
            if (!run.ready)
                run.waiting.push_back(text);
            else if (run.remark)
                run.remark(text);
    }

    void wait_for_signal() {
        signals.async_wait([this](const boost::system::error_code& error, int signal) {
            if (error) return;
            if (signal == SIGTSTP) suspend = true;
            stop_all(why_of(signal));
            if (!stopping && options.stopping) options.stopping();
            stopping = true;
            wait_for_signal();
        });
    }

    void note_display() {
        const auto trouble = options.display_trouble ? options.display_trouble() : std::nullopt;
        if (!trouble) return;
        display_said.push_back(*trouble);
        remark(*trouble);
    }

    // Whether there was one.
    bool notice_hang() {
        if (!watchdog) return false;
        watchdog->feed();
        if (const int seen = watchdog->bites(); std::exchange(bites, seen) == seen) return false;
        // Told of as what it was.
        static_cast<void>(watchdog->take_longest_pause_s());
        stop_all({FaultCode::time_limit,
                  "the program stood still for " + calib::fixed(watchdog->longest_hang_s(), 1) +
                      " s, and its watchdog stopped the pumps",
                  "watchdog",
                  "look for what held it up: a stopped process, a computer that slept, a slow disk, a "
                  "machine under load"});
        return true;
    }

    void look() {
        if (!notice_hang() && watchdog) {
            const double pause_s = watchdog->take_longest_pause_s();
            if (pause_s > watchdog->limit_s() / 2)
                remark("The program stood still for " + calib::fixed(pause_s, 1) +
                       " s, less than the watchdog allows.");
        }
        note_display();
        feeding.expires_after(seconds(watchdog ? watchdog->limit_s() / 8 : feeding_s));
        feeding.async_wait([this](const boost::system::error_code& error) {
            if (!error) look();
        });
    }

    SupervisionOptions options;
    asio::signal_set signals;
    asio::steady_timer feeding;
    std::optional<Watchdog> watchdog;
    std::optional<CrashHandlers> crash_handlers;
    std::vector<Run> runs;
    std::vector<std::string> display_said;
    int bites = 0;
    bool stopping = false;
    bool suspend = false;
    bool going = false;
};

Supervision::Supervision(asio::io_context& context, SupervisionOptions options)
    : parts_(std::make_unique<Parts>(context, std::move(options))) {}

Supervision::~Supervision() {
    // By an exception past everybody who would have stopped the pumps.
    if (parts_->going && std::uncaught_exceptions() > 0) {
        stop_pumps();
        if (parts_->options.cry)
            parts_->options.cry(
                "!! The program broke down. The pumps were told to stop, but no answer was heard: check that "
                "they have stopped; if one runs, PULL THE PUMP'S PLUG NOW.\n");
    }
    end();
}

bool Supervision::real() const {
    return parts_->watchdog.has_value();
}

std::unique_ptr<Link> Supervision::guard(std::unique_ptr<Link> pump_link, StopMessages stops) {
    if (!parts_->watchdog) return pump_link;
    return parts_->watchdog->guard(std::move(pump_link), std::move(stops));
}

void Supervision::enter(RunControl& run, std::function<void(const std::string&)> remark) {
    // A display that was lost from the start is told of once, and that may be before there is a run.
    parts_->runs.push_back({&run, std::move(remark), false, parts_->display_said});
}

void Supervision::can_note(RunControl& run) {
    for (Parts::Run& one : parts_->runs) {
        if (one.control != &run || one.ready) continue;
        one.ready = true;
        for (const std::string& text : std::exchange(one.waiting, {}))
            if (one.remark) one.remark(text);
    }
}

void Supervision::leave(RunControl& run) {
    std::erase_if(parts_->runs, [&](const Parts::Run& one) { return one.control == &run; });
}

void Supervision::notice_hang() {
    if (parts_->going) static_cast<void>(parts_->notice_hang());
}

void Supervision::note_display() {
    parts_->note_display();
}

void Supervision::begin() {
    if (std::exchange(parts_->going, true)) return;
    if (parts_->options.signals) {
        // What the system keeps for itself, a debugger's last real-time signal for one, cannot be sent here
        // either.
        boost::system::error_code not_ours;
        for (const int signal : ending_signals) parts_->signals.add(signal, not_ours);
        for (int signal = SIGRTMIN; signal <= SIGRTMAX; ++signal)
            if (signal != wake_signal_number()) parts_->signals.add(signal, not_ours);
#ifndef __SANITIZE_ADDRESS__  // which tells of crashes by itself
        if (parts_->watchdog) parts_->crash_handlers.emplace(parts_->options.code_without_memory);
#endif
        // A background process may write to its terminal; nobody is read from.
        ::signal(SIGTTOU, SIG_IGN);
        ::signal(SIGTTIN, SIG_IGN);
        parts_->wait_for_signal();
    }
    if (parts_->watchdog || parts_->options.display_trouble) parts_->look();
}

void Supervision::end() {
    if (!std::exchange(parts_->going, false)) return;
    boost::system::error_code ignored;
    static_cast<void>(parts_->signals.cancel(ignored));
    static_cast<void>(parts_->signals.clear(ignored));
    parts_->feeding.cancel();
    parts_->crash_handlers.reset();
    if (parts_->options.signals) {
        ::signal(SIGXFSZ, SIG_IGN);  // results are still to be written
        ::signal(SIGTTOU, SIG_DFL);
        ::signal(SIGTTIN, SIG_DFL);
    }
}

void Supervision::stop_pumps() {
    if (parts_->watchdog) parts_->watchdog->stop_pumps();
}

bool Supervision::suspension_asked() const {
    return parts_->suspend;
}

bool Supervision::suspend_if_asked() {
    if (!std::exchange(parts_->suspend, false)) return false;
    // By the signal's own action: a process that no shell could wake is not put to sleep.
    ::signal(SIGTSTP, SIG_DFL);
    ::raise(SIGTSTP);
    return true;
}

}  // namespace tipwright::bench
