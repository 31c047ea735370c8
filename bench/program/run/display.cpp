#include "bench/program/run/display.hpp"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <condition_variable>
#include <cstring>
#include <mutex>
#include <thread>

#include "bench/program/terminal.hpp"

namespace tipwright::program {

namespace {

using Seconds = std::chrono::duration<double>;

constexpr std::size_t queue_limit = 256u << 10;
// Never more than a pipe or a terminal that is ready takes at once (PIPE_BUF, pipe(7)).
constexpr std::size_t chunk = 1024;
constexpr int ready_limit_ms = 200;
constexpr double said_after_s = 2;  // nothing was taken for so long: said in the journal
constexpr Seconds farewell(1);

constexpr std::chrono::milliseconds between_tries(20);

std::atomic<bool> words_lost{false};

// A terminal may say that it is ready and then hold its writer for ever. Opened anew it can be told not to,
// which says nothing to whoever else has it open; -1 where that cannot be.
int never_held(int descriptor) {
    if (::isatty(descriptor) == 0) return -1;
    const std::string path = "/proc/self/fd/" + std::to_string(descriptor);
    return ::open(path.c_str(), O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
}

}  // namespace

struct Display::Shared {
    Shared(int to, int beside)
        : descriptor(to), own(never_held(to)), other(beside), own_other(never_held(beside)) {}
    Shared(const Shared&) = delete;
    Shared& operator=(const Shared&) = delete;
    ~Shared() {
        if (own >= 0) ::close(own);
        if (own_other >= 0) ::close(own_other);
    }

    void add(const std::string& text) {
        const std::lock_guard lock(mutex);
        if (failure != 0 || ending || queue.size() + text.size() > queue_limit) {
            lost = true;
            words_lost = true;
            return;
        }
        if (queue.empty()) taken_at = std::chrono::steady_clock::now();
        queue += text;
        changed.notify_all();
    }

    void write_on() {
        sigset_t all;
        sigfillset(&all);
        ::pthread_sigmask(SIG_SETMASK, &all, nullptr);
        std::unique_lock lock(mutex);
        while (true) {
            changed.wait(lock, [this] { return ending || !queue.empty(); });
            if (queue.empty()) break;
            std::string bytes = queue.substr(0, chunk);
            lock.unlock();
            const int to = own >= 0 ? own : descriptor;
            pollfd waiting{to, POLLOUT, 0};
            const int ready = ::poll(&waiting, 1, ready_limit_ms);
            ssize_t count = 0;
            int error = 0;
            if (ready == 1) {
                count = ::write(to, bytes.data(), bytes.size());
                if (count < 0 && errno != EINTR && errno != EAGAIN) error = errno;
            }
            lock.lock();
            if (error != 0) {
                failure = error;
                lost = true;
                words_lost = true;
                queue.clear();
                cry_beside();
            } else if (count > 0) {
                queue.erase(0, static_cast<std::size_t>(count));
                if (queue.empty()) {
                    urgent.clear();
                    changed.notify_all();
                }
                taken_at = std::chrono::steady_clock::now();
            } else {
                if (stuck()) cry_beside();
                if (ending && (ready == 0 || stuck())) break;
                if (ready == 1) changed.wait_for(lock, between_tries);
            }
        }
        ended = true;
        changed.notify_all();
    }

    // Under the lock, as what follows.
    bool stuck() const {
        const Seconds silent = std::chrono::steady_clock::now() - taken_at;
        return !queue.empty() && silent.count() * 1000 > ready_limit_ms;
    }

    // Urgent words that the display does not take.
    void cry_beside() {
        const int to = own_other >= 0 ? own_other : other;
        pollfd waiting{to, POLLOUT, 0};
        if (urgent.empty() || to < 0 || ::poll(&waiting, 1, 0) != 1) return;
        const ssize_t count = ::write(to, urgent.data(), urgent.size());
        // What takes nothing now is tried again for as long as the display takes nothing either.
        if (count > 0 || errno != EAGAIN)
            urgent.erase(0, count > 0 ? static_cast<std::size_t>(count) : std::string::npos);
    }

    std::mutex mutex;
    std::condition_variable changed;
    const int descriptor;
    const int own;
    const int other;
    const int own_other;
    std::string queue;
    std::string urgent;
    std::chrono::steady_clock::time_point taken_at{};
    int failure = 0;
    bool lost = false;
    bool told = false;
    bool ending = false;
    bool ended = false;
};

Display::Display(int descriptor, int other) : shared_(std::make_shared<Shared>(descriptor, other)) {
    cookie_io_functions_t functions{};
    functions.write = [](void* shared, const char* bytes, std::size_t count) -> ssize_t {
        static_cast<Shared*>(shared)->add(std::string(bytes, count));
        return static_cast<ssize_t>(count);
    };
    stream_ = ::fopencookie(shared_.get(), "w", functions);
    std::setvbuf(stream_, nullptr, _IONBF, 0);
    std::thread([shared = shared_] { shared->write_on(); }).detach();
}

Display::~Display() {
    finish();
    std::fclose(stream_);
}

void Display::flush() {
    std::unique_lock lock(shared_->mutex);
    shared_->changed.wait_for(lock, farewell, [this] { return shared_->queue.empty(); });
}

void Display::finish() {
    std::unique_lock lock(shared_->mutex);
    shared_->ending = true;
    shared_->changed.notify_all();
    shared_->changed.wait_for(lock, farewell, [this] { return shared_->ended; });
    if (!shared_->ended) shared_->cry_beside();
    if (shared_->queue.empty()) return;
    shared_->lost = true;
    words_lost = true;
}

bool Display::is_terminal() const {
    return ::isatty(shared_->descriptor) != 0;
}

std::size_t Display::width() const {
    return line_width(shared_->descriptor);
}

void Display::say(const std::string& text) {
    shared_->add(text);
}

void Display::cry(const std::string& text) {
    {
        const std::lock_guard lock(shared_->mutex);
        if (shared_->urgent.size() + text.size() <= queue_limit) shared_->urgent += text;
        if (shared_->failure != 0 || shared_->stuck()) shared_->cry_beside();
    }
    shared_->add(text);
}

std::optional<std::string> Display::trouble() {
    const std::lock_guard lock(shared_->mutex);
    const Seconds silent = std::chrono::steady_clock::now() - shared_->taken_at;
    // Where its writer is held all the same, nobody else tells it.
    if (shared_->stuck()) shared_->cry_beside();
    if (shared_->told) return std::nullopt;
    const bool hangs = !shared_->queue.empty() && silent.count() > said_after_s;
    if (shared_->failure == 0 && !hangs && !shared_->lost) return std::nullopt;
    shared_->told = true;
    if (shared_->failure != 0)
        return std::string("The display is lost (") + std::strerror(shared_->failure) +
               "); the work goes on without it.";
    return "The display takes no more; the work goes on without it.";
}

bool Display::lost_words() const {
    const std::lock_guard lock(shared_->mutex);
    return shared_->lost;
}

bool any_display_lost_words() {
    return words_lost;
}

}  // namespace tipwright::program
