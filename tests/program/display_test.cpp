// The display: it never holds up whoever speaks, loses nothing while it is read, and says when it was lost.
#include "bench/program/run/display.hpp"

#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <unistd.h>

#include <chrono>
#include <thread>

#include <catch2/catch.hpp>

using namespace tipwright::program;

namespace {

struct Pipe {
    Pipe() { REQUIRE(::pipe(ends) == 0); }
    ~Pipe() {
        ::close(ends[0]);
        ::close(ends[1]);
    }
    Pipe(const Pipe&) = delete;
    Pipe& operator=(const Pipe&) = delete;
    std::string read_some() const {
        char bytes[4096];
        const ssize_t count = ::read(ends[0], bytes, sizeof bytes);
        return {bytes, static_cast<std::size_t>(count > 0 ? count : 0)};
    }
    int ends[2];
};

std::optional<std::string> trouble_within(Display& display, double limit_s) {
    for (int k = 0; k < static_cast<int>(limit_s * 100); ++k) {
        if (auto trouble = display.trouble()) return trouble;
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    return std::nullopt;
}

}  // namespace

TEST_CASE("what is said arrives in order, by printf too") {
    const Pipe pipe;
    Display display(pipe.ends[1]);
    display.say("one ");
    std::fprintf(display.stream(), "%d", 2);
    display.finish();
    CHECK(pipe.read_some() == "one 2");
    CHECK_FALSE(display.lost_words());
    CHECK_FALSE(display.trouble());
}

TEST_CASE(
    "a reader that takes no more holds nobody up, and what is urgent goes beside, and it is said once") {
    const Pipe pipe;
    const Pipe beside;
    ::fcntl(pipe.ends[1], F_SETFL, O_NONBLOCK);
    while (::write(pipe.ends[1], "x", 1) == 1) {
    }
    ::fcntl(pipe.ends[1], F_SETFL, 0);
    Display display(pipe.ends[1], beside.ends[1]);
    for (int k = 0; k < 100000; ++k) display.say("a line that nobody reads\n");
    display.cry("urgent\n");
    CHECK(beside.read_some() == "urgent\n");
    CHECK(trouble_within(display, 10) == "The display takes no more; the work goes on without it.");
    CHECK_FALSE(display.trouble());
    CHECK(display.lost_words());
}

TEST_CASE("a reader that went away raises no signal, and is told with its reason") {
    ::signal(SIGPIPE, SIG_DFL);  // the display's own thread takes none
    Pipe pipe;
    const Pipe beside;
    ::close(pipe.ends[0]);
    pipe.ends[0] = -1;
    Display display(pipe.ends[1], beside.ends[1]);
    display.say("hello\n");
    CHECK(trouble_within(display, 10) == "The display is lost (Broken pipe); the work goes on without it.");
    display.cry("urgent\n");
    CHECK(beside.read_some() == "urgent\n");
    CHECK(any_display_lost_words());
}

TEST_CASE("what is urgent goes beside when a terminal says that it is ready and then holds its writer") {
    int master = -1;
    int terminal = -1;
    REQUIRE(::openpty(&master, &terminal, nullptr, nullptr, nullptr) == 0);
    ::fcntl(terminal, F_SETFL, O_NONBLOCK);
    while (::write(terminal, "xxxxxxxx", 8) > 0) {
    }
    ::fcntl(terminal, F_SETFL, 0);
    // Room for some of what is said, not for all of it.
    char taken[2048];
    REQUIRE(::read(master, taken, sizeof taken) > 0);
    const Pipe beside;
    ::fcntl(beside.ends[0], F_SETFL, O_NONBLOCK);
    {
        Display display(terminal, beside.ends[1]);
        for (int k = 0; k < 8; ++k) display.say(std::string(1000, 'y'));
        display.cry("urgent\n");
        // While the display is in use, and though nobody asks it for its trouble: whoever waits for the end
        // of the work waits too long.
        pollfd waiting{beside.ends[0], POLLIN, 0};
        CHECK(::poll(&waiting, 1, 5000) == 1);
    }
    CHECK(beside.read_some() == "urgent\n");
    ::close(terminal);
    ::close(master);
}
