// Watchdog: a loop that hangs is noticed, and every pump hears its stop, on the link it has now. The hang is
// real, and as short as the watchdog allows.
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <filesystem>
#include <memory>
#include <string>

#include <boost/asio/io_context.hpp>

#include "bench/instruments/profile.hpp"
#include "bench/instruments/stop_messages.hpp"
#include "bench/run/watchdog.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

// The instrument's end of a pseudo-terminal.
class Terminal {
public:
    Terminal() : fd_(::posix_openpt(O_RDWR | O_NOCTTY)) {
        REQUIRE(fd_ >= 0);
        REQUIRE(::grantpt(fd_) == 0);
        REQUIRE(::unlockpt(fd_) == 0);
    }
    ~Terminal() { ::close(fd_); }
    Terminal(const Terminal&) = delete;
    Terminal& operator=(const Terminal&) = delete;

    std::string link() const {
        std::array<char, 128> path{};
        REQUIRE(::ptsname_r(fd_, path.data(), path.size()) == 0);
        return "pty " + std::string(path.data());
    }
    // Bytes that come within the limit; this thread hangs here, as a loop would.
    std::string heard_within(int limit_ms) const {
        pollfd waiting{fd_, POLLIN, 0};
        if (::poll(&waiting, 1, limit_ms) != 1) return "";
        std::array<char, 256> bytes{};
        const ssize_t count = ::read(fd_, bytes.data(), bytes.size());
        return {bytes.data(), static_cast<std::size_t>(count > 0 ? count : 0)};
    }

private:
    int fd_;
};

}  // namespace

TEST_CASE("a hanging loop has its pumps stopped, one that lives has not") {
    const Terminal first;
    const Terminal second;
    boost::asio::io_context context;
    std::atomic<int> said{0};
    Watchdog dog(0.05, [&said] { ++said; });
    auto one = make_link(context, first.link());
    auto two = make_link(context, second.link());
    REQUIRE(one.ok());
    REQUIRE(two.ok());
    const auto guarded = dog.guard(std::move(*one), {{"STOP\r"}});
    auto other = dog.guard(std::move(*two), {{"A", "B"}, 0.1});

    for (int k = 0; k < 20; ++k) {
        dog.feed();
        CHECK(first.heard_within(5).empty());
    }
    CHECK(dog.bites() == 0);

    CHECK(first.heard_within(5000) == "STOP\r");
    std::string heard = second.heard_within(5000);
    while (heard.size() < 2) heard += second.heard_within(5000);
    CHECK(heard == "AB");
    CHECK(dog.bites() == 1);
    // Told to stop again every second, said once.
    CHECK(first.heard_within(5000) == "STOP\r");
    heard = second.heard_within(5000);
    while (heard.size() < 2) heard += second.heard_within(5000);
    CHECK(said == 1);
    dog.feed();
    CHECK(dog.longest_hang_s() >= 0.05);

    // A link that is gone is written to no more; the other still is.
    other.reset();
    CHECK(first.heard_within(5000) == "STOP\r");
    CHECK(second.heard_within(0).empty());
    CHECK(dog.bites() == 2);
    while (said < 2) ::usleep(1000);
    CHECK(said == 2);
}

TEST_CASE("a gap that is over before the watchdog woke is a hang, and the pumps are stopped for it") {
    const Terminal terminal;
    boost::asio::io_context context;
    auto link = make_link(context, terminal.link());
    REQUIRE(link.ok());
    pid_t child = ::fork();
    if (child == 0) {
        // A process of its own that can be stopped whole: it tells by its exit code what its watchdog
        // noticed.
        bool noticed = false;
        std::unique_ptr<Link> guarded;  // outlives the watchdog
        {
            Watchdog dog(0.2);
            guarded = dog.guard(std::move(*link), {{"STOP\r"}});
            double pause_s = 0;
            for (int k = 0; k < 200 && dog.bites() == 0; ++k) {
                ::usleep(10000);
                dog.feed();
                pause_s = std::max(pause_s, dog.take_longest_pause_s());
            }
            noticed = dog.bites() > 0 && pause_s > 0.2;
            // The watchdog's thread may have counted and not written yet: its end is waited for.
        }
        ::_exit(noticed ? 7 : 8);
    }
    for (int k = 0; k < 3; ++k) {
        ::usleep(100000);
        ::kill(child, SIGSTOP);
        ::usleep(400000);
        ::kill(child, SIGCONT);
    }
    int status = 0;
    ::waitpid(child, &status, 0);
    CHECK(WEXITSTATUS(status) == 7);
    CHECK(terminal.heard_within(5000).starts_with("STOP\r"));
}

TEST_CASE("between the messages that stop a pump there is the pause that its family needs") {
    const Terminal terminal;
    boost::asio::io_context context;
    Watchdog dog(30);
    auto link = make_link(context, terminal.link());
    REQUIRE(link.ok());
    const auto guarded = dog.guard(std::move(*link), {{"A", "B", "C"}, 0.1});
    const auto began = std::chrono::steady_clock::now();
    dog.stop_pumps();
    CHECK(std::chrono::steady_clock::now() - began >= std::chrono::milliseconds(200));
    std::string heard;
    while (heard.size() < 3) heard += terminal.heard_within(5000);
    CHECK(heard == "ABC");
}

TEST_CASE("a link without a descriptor is passed on as it is") {
    boost::asio::io_context context;
    Watchdog dog(30);
    auto pair = make_lockstep_pair(context, "pump");
    const Link* link = pair.first.get();
    CHECK(dog.guard(std::move(pair.first), {{"STOP\r"}}).get() == link);
}

TEST_CASE("every pump profile of the templates has bytes that stop it, and no other profile has") {
    const std::filesystem::path templates =
        std::filesystem::path(tipwright::test::source_dir()) / "templates";
    const auto of = [&](const std::string& name) {
        const auto profile = load_profile(name, templates);
        REQUIRE(profile.ok());
        return stop_messages(*profile).messages;
    };
    CHECK(of("generic-pump-ascii") == std::vector<std::string>{"STOP\r"});
    CHECK(of("generic-pump-ascii-timeout") == std::vector<std::string>{"STOP\r"});
    CHECK(of("generic-pump-scpi") == std::vector<std::string>{"OUTP OFF\n"});
    // Write many: unit 1, function 16, register 102, one register of two bytes, value 0, CRC. Or function 06.
    const auto modbus = of("generic-pump-modbus");
    REQUIRE(modbus.size() == 1);
    CHECK(modbus[0].substr(0, 6) == std::string("\x01\x06\x00\x66\x00\x00", 6));
    CHECK(modbus[0].size() == 8);
    CHECK(of("generic-balance-print").empty());
}
