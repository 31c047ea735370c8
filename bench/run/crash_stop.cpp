#include "bench/run/crash_stop.hpp"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <new>
#include <string_view>

#include "bench/journal/last_words.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t most_pumps = 64;
constexpr std::size_t most_bytes = 512;
constexpr std::size_t most_messages = 16;
constexpr std::size_t stack_bytes = 64u << 10;
constexpr int ready_limit_ms = 200;

// Written before its descriptor is: the handler may come at any moment.
struct Slot {
    std::atomic<bool> taken{false};
    std::atomic<int> descriptor{-1};
    std::array<char, most_bytes> bytes{};
    std::array<std::size_t, most_messages> ends{};
    std::size_t messages = 0;
    long pause_ms = 0;
};
std::array<Slot, most_pumps> slots;

constexpr int crashes[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGSYS, SIGTRAP};
std::array<struct sigaction, std::size(crashes)> before;
// The stack may be what overflowed.
alignas(16) std::array<char, stack_bytes> own_stack;
stack_t stack_before;
constexpr int nobody = -1;
std::atomic<int> exit_code_without_memory{nobody};
std::new_handler handler_before = nullptr;
std::terminate_handler terminate_before = nullptr;

void stop_pumps() {
    // The first message of every pump at once: no pump waits for another's slow line.
    for (std::size_t k = 0; k < most_messages; ++k) {
        for (Slot& slot : slots) {
            const int descriptor = slot.descriptor.load(std::memory_order_acquire);
            if (descriptor < 0 || k >= slot.messages) continue;
            const std::size_t from = k > 0 ? slot.ends[k - 1] : 0;
            static_cast<void>(!::write(descriptor, slot.bytes.data() + from, slot.ends[k] - from));
        }
        long pause_ms = 0;
        for (const Slot& slot : slots) {
            if (slot.descriptor.load(std::memory_order_acquire) < 0 || k + 1 >= slot.messages) continue;
            pause_ms = std::max(pause_ms, slot.pause_ms);
        }
        const timespec pause{pause_ms / 1000, pause_ms % 1000 * 1'000'000};
        ::nanosleep(&pause, nullptr);
    }
}

// A terminal that takes nothing (Ctrl-S) must hold up neither the journal's words nor the end.
void say_if_taken(std::string_view words) {
    int to = STDERR_FILENO;
    struct stat kind {};
    if (::fstat(to, &kind) == 0 && S_ISCHR(kind.st_mode)) {
        const int never_held = ::open("/proc/self/fd/2", O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
        if (never_held >= 0) to = never_held;
    }
    pollfd waiting{to, POLLOUT, 0};
    if (::poll(&waiting, 1, ready_limit_ms) == 1) static_cast<void>(!::write(to, words.data(), words.size()));
}

void stop_and_tell(std::string_view words) {
    stop_pumps();
    say_if_taken(words);
    write_last_words(words);
}

void stop_and_end(int signal) {
    stop_and_tell(
        "\n!! tipwright crashed. The pumps were told to stop, but no answer was heard: check that they have "
        "stopped; if one runs, PULL THE PUMP'S PLUG.\n");
    // Its own action is back (SA_RESETHAND): the end that it would have been.
    ::raise(signal);
}

// An allocation that asks no new-handler fails by an exception, which may come where none may pass.
[[noreturn]] void end_of_exceptions() {
    if (std::current_exception()) {
        try {
            throw;
        } catch (const std::bad_alloc&) {
            end_without_memory();
        } catch (...) {
            std::abort();  // which is caught
        }
    }
    std::abort();
}

}  // namespace

CrashStop::CrashStop(const StopMessages& stops) {
    if (stops.messages.size() > most_messages) return;
    std::size_t size = 0;
    for (const std::string& message : stops.messages) size += message.size();
    if (size > most_bytes) return;
    for (std::size_t i = 0; i < most_pumps; ++i) {
        Slot& slot = slots[i];
        if (slot.taken.exchange(true)) continue;
        std::size_t end = 0;
        slot.messages = 0;
        for (const std::string& message : stops.messages) {
            std::memcpy(slot.bytes.data() + end, message.data(), message.size());
            end += message.size();
            slot.ends[slot.messages++] = end;
        }
        slot.pause_ms = static_cast<long>(std::ceil(1000 * stops.pause_s));
        slot_ = static_cast<int>(i);
        return;
    }
}

CrashStop::~CrashStop() {
    if (slot_ < 0) return;
    use(-1);
    slots[static_cast<std::size_t>(slot_)].taken.store(false);
}

void CrashStop::use(int descriptor) {
    if (slot_ >= 0)
        slots[static_cast<std::size_t>(slot_)].descriptor.store(descriptor, std::memory_order_release);
}

void end_without_memory() {
    const int code = exit_code_without_memory.load();
    if (code == nobody) return;
    stop_and_tell(
        "\n!! The system gives tipwright no memory any more. The pumps were told to stop, but no answer was "
        "heard: check that they have stopped; if one runs, PULL THE PUMP'S PLUG. Close other programs; then "
        "resume the run with 'tipwright recover'.\n");
    ::_exit(code);
}

CrashHandlers::CrashHandlers(int code_without_memory) {
    terminate_before = std::set_terminate(end_of_exceptions);
    exit_code_without_memory = code_without_memory;
    handler_before = std::set_new_handler(end_without_memory);
    stack_t stack{};
    stack.ss_sp = own_stack.data();
    stack.ss_size = own_stack.size();
    ::sigaltstack(&stack, &stack_before);
    struct sigaction action {};
    action.sa_handler = stop_and_end;
    action.sa_flags = SA_ONSTACK | static_cast<int>(SA_RESETHAND);
    sigemptyset(&action.sa_mask);
    for (std::size_t i = 0; i < std::size(crashes); ++i) ::sigaction(crashes[i], &action, &before[i]);
}

CrashHandlers::~CrashHandlers() {
    exit_code_without_memory = nobody;
    std::set_new_handler(handler_before);
    std::set_terminate(terminate_before);
    for (std::size_t i = 0; i < std::size(crashes); ++i) ::sigaction(crashes[i], &before[i], nullptr);
    ::sigaltstack(&stack_before, nullptr);
}

}  // namespace tipwright::bench
