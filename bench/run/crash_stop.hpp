// What a program that crashes still does: it writes every pump's stop messages from within the signal
// handler, with calls that POSIX allows there (signal-safety(7)), says so on standard error and in the open
// journals (bench/journal/last_words.hpp), and then ends as it would have ended: SIGSEGV, SIGBUS, SIGFPE,
// SIGILL, SIGABRT, SIGSYS, SIGTRAP. Where the system gives no memory it stops, says so and exits: what is
// left half done by an allocation that failed would stop nothing any more. Against SIGKILL and a dead
// computer nothing helps but the pump's own time limit.
#pragma once

#include "bench/instruments/stop_messages.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

// One pump that is to be stopped; none is where there are more than sixty-four, or its messages are longer
// than five hundred bytes.
class CrashStop {
public:
    explicit CrashStop(const StopMessages& stops);
    CrashStop(const CrashStop&) = delete;
    CrashStop& operator=(const CrashStop&) = delete;
    ~CrashStop();

    // By this descriptor from now on; -1: by none.
    void use(int descriptor);

private:
    int slot_ = -1;
};

// While one lives, crashes are caught; there is one at a time.
class CrashHandlers {
public:
    // Exit code where there is no memory.
    explicit CrashHandlers(int code_without_memory);
    CrashHandlers(const CrashHandlers&) = delete;
    CrashHandlers& operator=(const CrashHandlers&) = delete;
    ~CrashHandlers();
};

// For std::bad_alloc that was thrown past operator new: does not return while handlers live.
void end_without_memory();
// Where none live, the run's.
inline Fault without_memory() {
    return {FaultCode::inconsistent, "the system gives no memory any more", "run",
            "close other programs; then 'tipwright recover' goes on with the run"};
}

}  // namespace tipwright::bench
