#include "bench/run/watchdog.hpp"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <map>
#include <utility>
#include <vector>

#include "bench/run/crash_stop.hpp"

namespace tipwright::bench {

namespace {

constexpr double bite_again_s = 1;
constexpr int writable_limit_ms = 200;

double steady_s() {
    timespec now{};
    ::clock_gettime(CLOCK_BOOTTIME, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

void write_out(int descriptor, const std::string& message) {
    pollfd waiting{descriptor, POLLOUT, 0};
    if (::poll(&waiting, 1, writable_limit_ms) != 1) return;
    // What cannot be written now is tried again with the next bite.
    // To a socket by the call that raises no signal when nobody reads there any more; its thread takes none.
    const ssize_t sent = ::send(descriptor, message.data(), message.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
    if (sent < 0 && errno == ENOTSOCK)
        static_cast<void>(!::write(descriptor, message.data(), message.size()));
}

}  // namespace

// The pumps' links as the watchdog knows them.
class Watchdog::Pumps {
public:
    Pumps() = default;
    Pumps(const Pumps&) = delete;
    Pumps& operator=(const Pumps&) = delete;
    ~Pumps() {
        for (auto& [number, pump] : pumps_) close_descriptor(pump);
    }

    int add(StopMessages stops) {
        const std::lock_guard lock(mutex_);
        Pump& pump = pumps_[next_];
        pump.crash_stop = std::make_unique<CrashStop>(stops);
        pump.stops = std::move(stops);
        return next_++;
    }

    void set(int number, int descriptor) {
        const int own = descriptor >= 0 ? ::fcntl(descriptor, F_DUPFD_CLOEXEC, 0) : -1;
        const std::lock_guard lock(mutex_);
        const auto found = pumps_.find(number);
        if (found == pumps_.end()) {
            if (own >= 0) ::close(own);
            return;
        }
        Pump& pump = found->second;
        close_descriptor(pump);
        pump.descriptor = own;
        pump.crash_stop->use(own);
    }

    void forget(int number) {
        const std::lock_guard lock(mutex_);
        const auto found = pumps_.find(number);
        if (found == pumps_.end()) return;
        close_descriptor(found->second);
        pumps_.erase(found);
    }

    void stop_all() {
        const std::lock_guard lock(mutex_);
        // The first message of every pump at once: no pump waits for another's slow line.
        bool more = true;
        for (std::size_t k = 0; more; ++k) {
            more = false;
            double pause_s = 0;
            for (auto& [number, pump] : pumps_) {
                const std::vector<std::string>& messages = pump.stops.messages;
                if (pump.descriptor < 0 || k >= messages.size()) continue;
                write_out(pump.descriptor, messages[k]);
                if (k + 1 == messages.size()) continue;
                more = true;
                pause_s = std::max(pause_s, pump.stops.pause_s);
            }
            std::this_thread::sleep_for(std::chrono::duration<double>(pause_s));
        }
    }

private:
    struct Pump {
        int descriptor = -1;
        StopMessages stops;
        std::unique_ptr<CrashStop> crash_stop;
    };

    static void close_descriptor(Pump& pump) {
        if (pump.crash_stop) pump.crash_stop->use(-1);
        if (pump.descriptor >= 0) ::close(pump.descriptor);
        pump.descriptor = -1;
    }

    std::mutex mutex_;
    std::map<int, Pump> pumps_;
    int next_ = 0;
};

// Passes everything on, and tells the watchdog of each new descriptor.
class Watchdog::GuardedLink final : public Link {
public:
    GuardedLink(std::unique_ptr<Link> link, std::shared_ptr<Pumps> pumps, int pump)
        : link_(std::move(link)), pumps_(std::move(pumps)), pump_(pump) {}
    GuardedLink(const GuardedLink&) = delete;
    GuardedLink& operator=(const GuardedLink&) = delete;
    ~GuardedLink() override { pumps_->forget(pump_); }

    std::string name() const override { return link_->name(); }
    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override { return link_->read_some(into); }
    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        return link_->write(right, bytes);
    }
    void close() override {
        pumps_->set(pump_, -1);
        link_->close();
    }
    bool can_reopen() const override { return link_->can_reopen(); }
    Task<Outcome> reopen() override {
        pumps_->set(pump_, -1);
        Outcome opened = co_await link_->reopen();
        if (opened) pumps_->set(pump_, link_->descriptor());
        co_return opened;
    }
    int descriptor() const override { return link_->descriptor(); }

private:
    std::unique_ptr<Link> link_;
    std::shared_ptr<Pumps> pumps_;
    int pump_;
};

Watchdog::Watchdog(double limit_s, std::function<void()> bitten)
    : limit_s_(limit_s),
      bitten_(std::move(bitten)),
      pumps_(std::make_shared<Pumps>()),
      fed_s_(steady_s()),
      thread_([this] { watch(); }) {}

Watchdog::~Watchdog() {
    {
        const std::lock_guard lock(mutex_);
        ending_ = true;
    }
    changed_.notify_all();
    thread_.join();
}

void Watchdog::feed() {
    std::unique_lock lock(mutex_);
    const double now_s = steady_s();
    const double pause_s = now_s - fed_s_;
    longest_pause_s_ = std::max(longest_pause_s_, pause_s);
    // The whole process stood still, and this thread woke first.
    const bool unnoticed = !biting_ && pause_s > limit_s_;
    if (unnoticed) ++bites_;
    if (biting_ || unnoticed) longest_hang_s_ = std::max(longest_hang_s_, pause_s);
    biting_ = false;
    fed_s_ = now_s;
    lock.unlock();
    if (unnoticed) pumps_->stop_all();
}

void Watchdog::stop_pumps() {
    pumps_->stop_all();
}

double Watchdog::take_longest_pause_s() {
    const std::lock_guard lock(mutex_);
    return std::exchange(longest_pause_s_, 0);
}

int Watchdog::bites() const {
    const std::lock_guard lock(mutex_);
    return bites_;
}

double Watchdog::longest_hang_s() const {
    const std::lock_guard lock(mutex_);
    return longest_hang_s_;
}

std::unique_ptr<Link> Watchdog::guard(std::unique_ptr<Link> pump_link, StopMessages stops) {
    const int descriptor = pump_link->descriptor();
    if (descriptor < 0 || stops.messages.empty()) return pump_link;
    const int number = pumps_->add(std::move(stops));
    pumps_->set(number, descriptor);
    return std::make_unique<GuardedLink>(std::move(pump_link), pumps_, number);
}

void Watchdog::watch() {
    // The program's own signals are for its own thread.
    sigset_t all;
    sigfillset(&all);
    ::pthread_sigmask(SIG_SETMASK, &all, nullptr);
    std::unique_lock lock(mutex_);
    double bitten_s = 0;
    while (!ending_) {
        const double now_s = steady_s();
        const double due_s =
            biting_ ? std::max(fed_s_ + limit_s_, bitten_s + bite_again_s) : fed_s_ + limit_s_;
        if (now_s < due_s) {
            changed_.wait_for(lock, std::chrono::duration<double>(due_s - now_s));
            continue;
        }
        const bool first = !std::exchange(biting_, true);
        if (first) ++bites_;
        bitten_s = now_s;
        lock.unlock();
        pumps_->stop_all();
        if (first && bitten_) bitten_();
        lock.lock();
    }
}

}  // namespace tipwright::bench
