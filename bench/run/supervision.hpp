// Supervision: what watches over every pump of this process: a watchdog that stops them when the event loop
// hangs or stood still, and the signals that a person, a terminal or the system sends. A WaterGuard cannot be
// made without.
//
// Every signal that would end the process by its number (SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGUSR1, SIGUSR2,
// SIGXFSZ, SIGXCPU, SIGALRM, SIGVTALRM, SIGPROF, SIGPWR, SIGIO, SIGSTKFLT, the real-time ones) and SIGTSTP
// ask every run to end, its pump first; SIGTSTP suspends the process once they have. SIGTTIN and SIGTTOU are
// ignored meanwhile. A crash stops the pumps at once (crash_stop.hpp). Nothing can be done about SIGKILL and
// SIGSTOP: after the latter the gap is noticed.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/instruments/stop_messages.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

class RunControl;

struct SupervisionOptions {
    double hang_s = 0;     // of the watchdog, real seconds; 0: no water outside this process, no watchdog
    bool signals = false;  // taken until the end of supervision
    // What is wrong with the display, once; asked several times a second. May be empty.
    std::function<std::optional<std::string>()> display_trouble;
    std::function<void()> stopping;               // at the first signal; may be empty
    std::function<void(const std::string&)> cry;  // to whoever stands beside, from any thread; may be empty
    int code_without_memory = 1;  // exit code, where the system gives none while water may flow
};

class Supervision {
public:
    Supervision(boost::asio::io_context& context, SupervisionOptions options);
    Supervision(const Supervision&) = delete;
    Supervision& operator=(const Supervision&) = delete;
    ~Supervision();

    // Water outside this process: instruments can be lost, and come back as others.
    bool real() const;
    // The pump's link as the watchdog shall know it; without a watchdog as it is.
    std::unique_ptr<Link> guard(std::unique_ptr<Link> pump_link, StopMessages stops);

    // By each run: whom to ask to end, and where to write down what happened.
    void enter(RunControl& run, std::function<void(const std::string&)> remark);
    // Its journal is open: what happened until now is written down, and from now on at once.
    void can_note(RunControl& run);
    // Asks after the display now: before a journal is closed that would not hear of it any more.
    void note_display();
    void leave(RunControl& run);
    // Asks every run to end if this process has stood still until now: before what time alone seems to have
    // brought is put down to an instrument.
    void notice_hang();

    // From before the first command until the last pump is off.
    void begin();
    void end();
    // Writes every pump's stop messages on its link at once, waiting for no answer.
    void stop_pumps();
    bool suspension_asked() const;
    // After end: suspends the process if that was asked for, and returns when it goes on.
    bool suspend_if_asked();

private:
    struct Parts;
    std::unique_ptr<Parts> parts_;
};

}  // namespace tipwright::bench
