// What a program that crashes still does: every pump hears its stop, somebody is told, and the end is the one
// it was.
#include "bench/run/crash_stop.hpp"

#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <chrono>
#include <exception>
#include <functional>
#include <new>
#include <stdexcept>
#include <string>

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr int no_memory = 71;

struct Ended {
    int status = 0;
    std::string first_pump, second_pump, words;
};

std::string all_of(int descriptor) {
    std::string out;
    std::array<char, 4096> bytes{};
    for (ssize_t n = 0; (n = ::read(descriptor, bytes.data(), bytes.size())) > 0;)
        out.append(bytes.data(), static_cast<std::size_t>(n));
    ::close(descriptor);
    return out;
}

// In a child with two pumps, the second of which has no link; its link is a pipe, as its standard error is.
Ended crashed_by(const std::function<void()>& crash) {
    std::array<int, 2> first{}, second{}, words{};
    REQUIRE(::pipe(first.data()) == 0);
    REQUIRE(::pipe(second.data()) == 0);
    REQUIRE(::pipe(words.data()) == 0);
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        const rlimit none{0, 0};
        ::setrlimit(RLIMIT_CORE, &none);
        ::dup2(words[1], STDERR_FILENO);
        CrashStop pump({{"STOP 1\r", "STOP 2\r"}, 0.1});
        CrashStop unplugged({{"STOP 3\r"}});
        const CrashHandlers handlers(no_memory);
        pump.use(first[1]);
        unplugged.use(second[1]);
        unplugged.use(-1);
        crash();
        ::_exit(0);
    }
    for (const int end : {first[1], second[1], words[1]}) ::close(end);
    Ended out;
    out.first_pump = all_of(first[0]);
    out.second_pump = all_of(second[0]);
    out.words = all_of(words[0]);
    REQUIRE(::waitpid(child, &out.status, 0) == child);
    return out;
}

void throw_where_none_may_pass(const std::function<void()>& thrown) noexcept {
    thrown();
}

}  // namespace

TEST_CASE("a crash stops the pumps, says so, and ends as it would have ended") {
    for (const int signal : {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGSYS, SIGTRAP}) {
        INFO(signal);
        const auto began = std::chrono::steady_clock::now();
        const Ended end = crashed_by([&] { ::raise(signal); });
        CHECK(std::chrono::steady_clock::now() - began >= std::chrono::milliseconds(100));
        CHECK(WIFSIGNALED(end.status));
        CHECK(WTERMSIG(end.status) == signal);
        CHECK(end.first_pump == "STOP 1\rSTOP 2\r");
        CHECK(end.second_pump.empty());
        CHECK(end.words.find("tipwright crashed") != std::string::npos);
        CHECK(end.words.find("PULL THE PUMP'S PLUG") != std::string::npos);
    }
}

TEST_CASE("a program that gives up, with an exception in flight or without, aborts with its pumps stopped") {
    const auto aborted = [](const std::function<void()>& crash) {
        const Ended end = crashed_by(crash);
        CHECK(end.first_pump == "STOP 1\rSTOP 2\r");
        CHECK(end.words.find("tipwright crashed") != std::string::npos);
        return WIFSIGNALED(end.status) && WTERMSIG(end.status) == SIGABRT;
    };
    CHECK(aborted([] { std::terminate(); }));
    CHECK(aborted([] { throw_where_none_may_pass([] { throw std::runtime_error("a bug"); }); }));
}

TEST_CASE("where there is no memory the pumps are stopped and the program exits with the code it was given") {
    for (const bool thrown : {true, false}) {
        const Ended end = crashed_by([&] {
            if (thrown) throw_where_none_may_pass([] { throw std::bad_alloc(); });
            end_without_memory();
        });
        CHECK(WIFEXITED(end.status));
        CHECK(WEXITSTATUS(end.status) == no_memory);
        CHECK(end.first_pump == "STOP 1\rSTOP 2\r");
        CHECK(end.words.find("no memory any more") != std::string::npos);
    }
}

TEST_CASE("a program that does not crash stops nothing") {
    const Ended end = crashed_by([] {});
    CHECK(WIFEXITED(end.status));
    CHECK(WEXITSTATUS(end.status) == 0);
    CHECK(end.first_pump.empty());
    CHECK(end.words.empty());
}
