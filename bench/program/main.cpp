#include <fcntl.h>
#include <unistd.h>

#include <csignal>
#include <cstdio>

#include "bench/program/command_line.hpp"
#include "bench/program/run/display.hpp"

namespace {

// A standard descriptor that was closed must never become that of a journal or a pump. What stands in for it
// cannot be read or written either, so that the loss is noticed.
void fill_standard_descriptors() {
    for (int descriptor = 0; descriptor <= 2; ++descriptor) {
        if (::fcntl(descriptor, F_GETFD) != -1) continue;
        // The lowest free one is given: this one.
        if (::open("/dev/null", descriptor == 0 ? O_WRONLY : O_RDONLY) != descriptor) ::_exit(1);
    }
}

}  // namespace

int main(int argc, char** argv) {
    using namespace tipwright::program;
    fill_standard_descriptors();
    // A reader that went away is an error of writing, and no reason to die with a pump running.
    static_cast<void>(std::signal(SIGPIPE, SIG_IGN));
    // A file past the limit of the shell is one that could not be written, with its one line.
    static_cast<void>(std::signal(SIGXFSZ, SIG_IGN));
    const ExitCode code = run_program(argc, argv);
    const bool lost = std::fflush(stdout) != 0 || std::ferror(stdout) != 0 || std::fflush(stderr) != 0 ||
                      std::ferror(stderr) != 0 || any_display_lost_words();
    return static_cast<int>(lost && code == ExitCode::done ? ExitCode::unsaid : code);
}
