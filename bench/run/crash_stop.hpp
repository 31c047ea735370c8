// What a program that crashes still does: it writes every pump's stop messages from within the signal
// handler, with calls that POSIX allows there (signal-safety(7)), says so on standard error and in the open
// journals (bench/journal/last_words.hpp), and then ends as it would have ended: SIGSEGV, SIGBUS, SIGFPE,
// SIGILL, SIGABRT, SIGSYS, SIGTRAP. Against SIGKILL and a dead computer nothing helps but the pump's own time
// limit.
#pragma once

#include <string>
#include <vector>

namespace tipwright::bench {

// One pump that is to be stopped; none is where there are more than sixty-four, or its messages are longer
// than five hundred bytes.
class CrashStop {
public:
    explicit CrashStop(const std::vector<std::string>& stop_messages);
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
    CrashHandlers();
    CrashHandlers(const CrashHandlers&) = delete;
    CrashHandlers& operator=(const CrashHandlers&) = delete;
    ~CrashHandlers();
};

}  // namespace tipwright::bench
