// Watches modem inputs in a thread and hands each change to the context's thread.
#include <pthread.h>
#include <signal.h>
#include <time.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <chrono>
#include <cmath>
#include <deque>
#include <future>
#include <limits>
#include <mutex>
#include <optional>
#include <thread>

#include <boost/asio/post.hpp>

#include "bench/instruments/modem_contacts/instruments.hpp"
#include "bench/instruments/wake_signal.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;
using SteadyClock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

// Edges that nobody fetched: beyond this the run has lost its hold on the bench.
constexpr std::size_t unread_limit = 100000;
// Changes that came between two looks and are told, alternating, at one moment.
constexpr std::uint32_t changes_at_once_max = 64;
constexpr int wakes_measured = 64;
constexpr int looks_max = 100;

// Ends a wait in the driver. It only has to have a handler; the handler does nothing.
int wake_signal() {
    static const int number = [] {
        const int chosen = wake_signal_number();
        struct sigaction action {};
        action.sa_handler = [](int) {};
        ::sigaction(chosen, &action, nullptr);
        return chosen;
    }();
    return number;
}

// Ends the waits of this thread again and again, while it lives: the driver notices no change that came just
// before a wait (ioctl_tty(2), TIOCMIWAIT, begins to look when it is called).
class WakeTimer {
public:
    WakeTimer() {
        sigevent event{};
        event.sigev_notify = SIGEV_THREAD_ID;
        event.sigev_signo = wake_signal();
        event._sigev_un._tid = ::gettid();
        made_ = ::timer_create(CLOCK_MONOTONIC, &event, &timer_) == 0;
        constexpr timespec often{0, 5'000'000};
        constexpr itimerspec times{often, often};
        if (made_) ::timer_settime(timer_, 0, &times, nullptr);
    }
    ~WakeTimer() {
        if (made_) ::timer_delete(timer_);
    }
    WakeTimer(const WakeTimer&) = delete;
    WakeTimer& operator=(const WakeTimer&) = delete;

private:
    timer_t timer_{};
    bool made_ = false;
};

// What the watching thread and the context's thread share. The first part belongs to the context's thread.
struct Shared {
    explicit Shared(Clock& its_clock) : clock(its_clock), arrived(its_clock.make_alarm()) {}

    void add(Result<ContactEdge> event) {
        if (closed || events.size() == unread_limit) return;
        if (events.size() + 1 == unread_limit) {
            event = Fault{FaultCode::garbled_answer, "more edges than anybody fetches", "",
                          "check the contact for bounce"};
        }
        events.push_back(std::move(event));
        arrived->ring();
    }

    Clock& clock;
    std::unique_ptr<Alarm> arrived;
    std::deque<Result<ContactEdge>> events;
    std::optional<Fault> lost;
    bool closed = false;

    std::atomic<bool> stop{false};
    std::atomic<bool> ended{false};
    std::atomic<double> edge_time_u_s{0};
};

class Watcher {
public:
    Watcher(std::shared_ptr<Shared> shared, std::shared_ptr<const ModemContactsProfile> profile,
            ModemLines& lines, asio::io_context& context, std::string name)
        : shared_(std::move(shared)),
          profile_(std::move(profile)),
          lines_(lines),
          context_(context),
          name_(std::move(name)) {}

    void watch(std::promise<void>& ready) {
        const auto first = lines_.states();
        if (!first) {
            ready.set_value();
            return lose(first.fault());
        }
        states_ = *first;
        const bool waits = profile_->edge_wait && lines_.can_wait();
        measure(waits);
        if (waits) {
            // Counted before anybody is told that the watch is kept: nothing between is missed.
            const auto counts = lines_.counts();
            ready.set_value();
            if (!counts) return lose(counts.fault());
            counts_ = *counts;
            wait_for_edges();
        } else {
            ready.set_value();
            look_for_edges();
        }
    }

private:
    // How late this thread wakes up, or how far its looks are apart, on this machine as it is now. In bench
    // time, which on a served bench passes faster than the machine's.
    void measure(bool waits) {
        const Seconds pause(waits ? 0.0002 : profile_->poll_interval_s);
        const auto began = SteadyClock::now();
        const double began_s = shared_->clock.now_s();
        double squares = 0;
        double looked_s = began_s;
        for (int i = 0; i < wakes_measured; ++i) {
            const auto due = SteadyClock::now() + std::chrono::duration_cast<SteadyClock::duration>(pause);
            std::this_thread::sleep_until(due);
            const double late_s = Seconds(SteadyClock::now() - due).count();
            squares += late_s * late_s / wakes_measured;
            const double now_s = shared_->clock.now_s();
            if (!waits) take_interval(now_s - looked_s);
            looked_s = now_s;
        }
        const double rate = (looked_s - began_s) / Seconds(SteadyClock::now() - began).count();
        adapter_u_s_ = rate * profile_->adapter_u_s;
        if (waits) shared_->edge_time_u_s = rate * std::hypot(profile_->adapter_u_s, std::sqrt(squares));
    }

    // An edge falls into an interval between two looks the likelier the longer it is; within it anywhere (u^2
    // = length^2 / 12, JCGM 100:2008, 4.3.7), about its middle.
    void take_interval(double length_s) {
        cubes_ += length_s * length_s * length_s;
        lengths_ += length_s;
        shared_->edge_time_u_s = std::hypot(adapter_u_s_, std::sqrt(cubes_ / lengths_ / 12));
    }

    void wait_for_edges() {
        ModemStates watched{};
        for (const ModemContact& contact : profile_->contacts)
            watched[static_cast<std::size_t>(contact.input)] = true;
        const WakeTimer timer;
        double looked_s = shared_->clock.now_s();
        while (!shared_->stop) {
            // A change between the last look and this wait would be slept over: it shows in the counts, at
            // the latest when the timer has ended the wait.
            const double before_s = shared_->clock.now_s();
            auto counts = lines_.counts();
            if (!counts) return lose(counts.fault());
            bool woken = false;
            if (*counts == counts_) {
                looked_s = before_s;
                const auto changed = lines_.wait_for_change(watched);
                if (!changed) return lose(changed.fault());
                if (!*changed) continue;
                woken = true;
            }
            const double now_s = shared_->clock.now_s();
            // Slept over: some time since the last look.
            if (!look(woken ? now_s : (looked_s + now_s) / 2)) return;
            looked_s = now_s;
        }
    }

    // Counts and states of the same moment: nothing was counted while the states were read.
    bool look(double now_s) {
        for (int attempt = 0;; ++attempt) {
            const auto counts = lines_.counts();
            const auto states = lines_.states();
            const auto again = lines_.counts();
            if (!counts || !states || !again) {
                lose(!counts ? counts.fault() : !states ? states.fault() : again.fault());
                return false;
            }
            if (*again != *counts && attempt < looks_max) continue;
            tell(*counts, *states, now_s);
            return true;
        }
    }

    void tell(const ModemCounts& counts, const ModemStates& states, double now_s) {
        for (std::size_t i = 0; i < profile_->contacts.size(); ++i) {
            const auto input = static_cast<std::size_t>(profile_->contacts[i].input);
            std::uint32_t changes = counts[input] - counts_[input];
            // Some drivers count an input one way only: the states have the last word on where it is now.
            const bool odd = states[input] != states_[input];
            if ((changes % 2 == 1) != odd) ++changes;
            for (std::uint32_t k = 0; k < std::min(changes, changes_at_once_max + (changes & 1u)); ++k) {
                states_[input] = !states_[input];
                edge(i, now_s);
            }
            states_[input] = states[input];
        }
        counts_ = counts;
    }

    void look_for_edges() {
        double looked_s = shared_->clock.now_s();
        while (!shared_->stop) {
            std::this_thread::sleep_for(Seconds(profile_->poll_interval_s));
            const auto states = lines_.states();
            if (!states) return lose(states.fault());
            const double now_s = shared_->clock.now_s();
            take_interval(now_s - looked_s);
            for (std::size_t i = 0; i < profile_->contacts.size(); ++i) {
                const auto input = static_cast<std::size_t>(profile_->contacts[i].input);
                if ((*states)[input] == states_[input]) continue;
                states_[input] = (*states)[input];
                edge(i, (looked_s + now_s) / 2);
            }
            looked_s = now_s;
        }
    }

    void edge(std::size_t contact, double time_s) {
        const ModemContact& wiring = profile_->contacts[contact];
        ContactEdge edge;
        edge.contact = static_cast<int>(contact) + 1;
        edge.closed = states_[static_cast<std::size_t>(wiring.input)] == wiring.closed_when_on;
        edge.time_s = time_s;
        edge.device_us = static_cast<std::uint64_t>(
            std::chrono::duration_cast<std::chrono::microseconds>(SteadyClock::now().time_since_epoch())
                .count());
        edge.sequence = ++sequence_;
        asio::post(context_, [shared = shared_, edge] { shared->add(edge); });
    }

    void lose(Fault fault) {
        fault.where = name_;
        asio::post(context_, [shared = shared_, fault] {
            if (shared->closed) return;
            shared->lost = fault;
            shared->arrived->ring();
        });
    }

    std::shared_ptr<Shared> shared_;
    std::shared_ptr<const ModemContactsProfile> profile_;
    ModemLines& lines_;
    asio::io_context& context_;
    std::string name_;
    ModemStates states_{};
    ModemCounts counts_{};
    std::uint32_t sequence_ = 0;
    double adapter_u_s_ = 0;
    double cubes_ = 0;
    double lengths_ = 0;
};

class ModemCounter final : public TipCounter {
public:
    ModemCounter(std::shared_ptr<const ModemContactsProfile> profile, std::unique_ptr<Link> link,
                 ModemLines& lines, Clock& clock, asio::io_context& context, std::string name)
        : link_(std::move(link)),
          name_(std::move(name)),
          wiring_(wiring(*profile, link_->name())),
          shared_(std::make_shared<Shared>(clock)) {
        (void)wake_signal();
        std::promise<void> ready;
        std::future<void> watching = ready.get_future();
        thread_ = std::thread(
            [shared = shared_, profile = std::move(profile), &lines, &context, its_name = name_, &ready] {
                // The program's own signals are for its own thread.
                sigset_t others;
                sigfillset(&others);
                sigdelset(&others, wake_signal());
                ::pthread_sigmask(SIG_SETMASK, &others, nullptr);
                Watcher(shared, profile, lines, context, its_name).watch(ready);
                shared->ended = true;
            });
        watching.wait();
    }
    ModemCounter(const ModemCounter&) = delete;
    ModemCounter& operator=(const ModemCounter&) = delete;

    ~ModemCounter() override {
        shared_->stop = true;
        // A signal that comes just before the wait begins is lost: it is sent until it has worked.
        while (!shared_->ended) {
            ::pthread_kill(thread_.native_handle(), wake_signal());
            std::this_thread::sleep_for(std::chrono::milliseconds(1));
        }
        thread_.join();
        shared_->closed = true;
        link_->close();
    }

    std::string name() const override { return name_; }
    // Nobody answers at the end of a wire: what it hangs on is told.
    Task<Result<std::string>> identify() override { co_return wiring_; }
    double edge_time_u_s() const override { return shared_->edge_time_u_s; }

    Task<Result<ContactEdge>> next() override {
        // Held here too: whoever waits may outlive this.
        const auto shared = shared_;
        while (shared->events.empty()) {
            if (shared->lost) co_return *shared->lost;
            co_await shared->arrived->wait_until(std::numeric_limits<double>::infinity());
        }
        Result<ContactEdge> event = std::move(shared->events.front());
        shared->events.pop_front();
        co_return event;
    }

private:
    static std::string wiring(const ModemContactsProfile& profile, const std::string& port) {
        constexpr const char* inputs[] = {"CTS", "DSR", "DCD", "RI"};
        std::string text;
        for (const ModemContact& contact : profile.contacts)
            add_part(text, inputs[static_cast<int>(contact.input)], " and ");
        return text + " of " + port;
    }

    std::unique_ptr<Link> link_;
    std::string name_;
    std::string wiring_;
    std::shared_ptr<Shared> shared_;
    std::thread thread_;
};

}  // namespace

Result<std::unique_ptr<TipCounter>> make_modem_counter(std::shared_ptr<const ModemContactsProfile> profile,
                                                       std::unique_ptr<Link> link, Clock& clock,
                                                       asio::io_context& context, std::string name) {
    ModemLines* lines = link->modem_lines();
    if (lines == nullptr) {
        return Fault{FaultCode::inconsistent, "its link " + in_quotes(link->name()) + " has no modem inputs",
                     name, "wire the contacts to a serial port and write link = \"serial ...\""};
    }
    if (Outcome fed = lines->set_outputs(profile->dtr, profile->rts); !fed) return fed.fault();
    return std::unique_ptr<TipCounter>(std::make_unique<ModemCounter>(
        std::move(profile), std::move(link), *lines, clock, context, std::move(name)));
}

}  // namespace tipwright::bench
