// Links to the outside: real pseudo-terminals and real TCP on this machine, on the wall clock; no test waits
// for time, only for bytes.
#include <fcntl.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include <sys/file.h>

#include <chrono>
#include <filesystem>
#include <string>
#include <thread>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/write.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/make.hpp"
#include "bench/links/link.hpp"
#include "bench/links/link_lock.hpp"
#include "bench/links/ports.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/test_permit.hpp"
#include "tests/support/test_send.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace asio = boost::asio;
using asio::ip::tcp;

namespace {

// The device's side of a pseudo-terminal.
class Terminal {
public:
    Terminal() : master_(::posix_openpt(O_RDWR | O_NOCTTY)) {
        REQUIRE(master_ >= 0);
        REQUIRE(::grantpt(master_) == 0);
        REQUIRE(::unlockpt(master_) == 0);
        char name[128];
        REQUIRE(::ptsname_r(master_, name, sizeof name) == 0);
        path_ = name;
    }
    Terminal(const Terminal&) = delete;
    Terminal& operator=(const Terminal&) = delete;
    ~Terminal() { hang_up(); }

    const std::string& path() const { return path_; }
    void say(const std::string& text) const {
        REQUIRE(::write(master_, text.data(), text.size()) == static_cast<ssize_t>(text.size()));
    }
    std::string hear(std::size_t count) const {
        std::string text(count, '\0');
        std::size_t have = 0;
        while (have < count) {
            const ssize_t got = ::read(master_, text.data() + have, count - have);
            REQUIRE(got > 0);
            have += static_cast<std::size_t>(got);
        }
        return text;
    }
    void hang_up() {
        if (master_ >= 0) ::close(master_);
        master_ = -1;
    }

private:
    int master_;
    std::string path_;
};

Task<void> read_text(Link& link, std::size_t count, std::string& into, Clock& clock) {
    while (into.size() < count) {
        std::byte buffer[32];
        Result<std::size_t> got = co_await link.read_some(buffer);
        if (!got) {
            into += "|" + std::string(name_of(got.fault().code));
            break;
        }
        into.append(reinterpret_cast<const char*>(buffer), *got);
    }
    clock.stop();
}

Task<void> write_text(Link& link, std::string text, std::string& outcome, Clock& clock) {
    Outcome written = co_await link.write(TestSend::right(), std::as_bytes(std::span(text)));
    outcome = written.ok() ? "done" : std::string(name_of(written.fault().code));
    clock.stop();
}

std::string fault_of(const std::string& description) {
    asio::io_context context;
    const auto link = make_link(context, description);
    return link.ok() ? std::string("good") : std::string(name_of(link.fault().code));
}

}  // namespace

TEST_CASE("a pseudo-terminal carries every byte as it is, both ways, and its end is told") {
    asio::io_context context;
    const auto clock = make_wall_clock(context);
    Terminal terminal;
    auto link = make_link(context, "pty " + terminal.path());
    REQUIRE(link.ok());
    CHECK((*link)->name() == terminal.path());
    // Bytes that a terminal in its usual state would change, swallow or act on.
    const std::string odd("\r\n\x03\x04\x11\x13\x1a\x7f\xff\0x", 12);
    terminal.say(odd);
    std::string heard;
    asio::co_spawn(context, read_text(**link, odd.size(), heard, *clock), asio::detached);
    clock->run();
    CHECK(heard == odd);
    std::string outcome;
    asio::co_spawn(context, write_text(**link, odd, outcome, *clock), asio::detached);
    clock->run();
    CHECK(outcome == "done");
    CHECK(terminal.hear(odd.size()) == odd);

    heard.clear();
    terminal.hang_up();
    asio::co_spawn(context, read_text(**link, 1, heard, *clock), asio::detached);
    clock->run();
    CHECK(heard == "|link_lost");
}

TEST_CASE(
    "another program finds a link in use though its lock's file was removed: at once, or with the next "
    "bytes") {
    const std::filesystem::path folder = test::scratch_dir() / "locks-of-one-link";
    std::filesystem::create_directory(folder);
    lock_policy() = {folder, false};
    asio::io_context context;
    const auto clock = make_wall_clock(context);
    Terminal terminal;
    auto link = make_link(context, "pty " + terminal.path());
    REQUIRE(link.ok());
    const std::filesystem::path file = std::filesystem::directory_iterator(folder)->path();
    const auto in_use = [&] {
        const int other = ::open(file.c_str(), O_RDONLY);
        const bool held = other >= 0 && ::flock(other, LOCK_EX | LOCK_NB) != 0;
        if (other >= 0) ::close(other);
        return held;
    };
    CHECK(in_use());
    // A balance prints, and nobody sends anything: within a quarter of a second, and what the machine takes.
    REQUIRE(std::filesystem::remove(file));
    const auto removed = std::chrono::steady_clock::now();
    while (!in_use() && std::chrono::steady_clock::now() - removed < std::chrono::seconds(20)) {
        terminal.say("W");
        std::string heard;
        asio::co_spawn(context, read_text(**link, 1, heard, *clock), asio::detached);
        clock->run();
    }
    CHECK(in_use());
    // Before anything is sent.
    REQUIRE(std::filesystem::remove(file));
    std::string outcome;
    asio::co_spawn(context, write_text(**link, "STOP\r", outcome, *clock), asio::detached);
    clock->run();
    CHECK(in_use());
    (*link)->close();
    CHECK_FALSE(in_use());
    lock_policy() = {};
}

TEST_CASE("another program that took a link is told of with the third message, and all its bytes go") {
    const std::filesystem::path folder = test::scratch_dir() / "locks-of-a-taken-link";
    std::filesystem::create_directory(folder);
    lock_policy() = {folder, false};
    asio::io_context context;
    const auto clock = make_wall_clock(context);
    Terminal terminal;
    auto link = make_link(context, "pty " + terminal.path());
    REQUIRE(link.ok());
    const std::filesystem::path file = std::filesystem::directory_iterator(folder)->path();
    REQUIRE(std::filesystem::remove(file));
    const int other = ::open(file.c_str(), O_RDONLY | O_CREAT | O_EXCL, 0644);
    REQUIRE(other >= 0);
    REQUIRE(::flock(other, LOCK_EX | LOCK_NB) == 0);
    std::vector<std::string> outcomes(4);
    for (std::string& outcome : outcomes) {
        asio::co_spawn(context, write_text(**link, "STOP\r", outcome, *clock), asio::detached);
        clock->run();
        CHECK(terminal.hear(5) == "STOP\r");
    }
    CHECK(outcomes == std::vector<std::string>{"done", "done", "not_permitted", "done"});
    ::close(other);
    (*link)->close();
    lock_policy() = {};
}

TEST_CASE("closing a link ends what waits on it") {
    asio::io_context context;
    const auto clock = make_wall_clock(context);
    Terminal terminal;
    auto link = make_link(context, "pty " + terminal.path());
    REQUIRE(link.ok());
    std::string heard;
    asio::co_spawn(context, read_text(**link, 1, heard, *clock), asio::detached);
    asio::co_spawn(
        context,
        [](Link& open) -> Task<void> {
            open.close();
            co_return;
        }(**link),
        asio::detached);
    clock->run();
    CHECK(heard == "|link_lost");
}

TEST_CASE("TCP carries bytes both ways, its end is told, and it can be opened again") {
    asio::io_context context;
    const auto clock = make_wall_clock(context);
    asio::io_context server_context;
    tcp::acceptor acceptor(server_context, tcp::endpoint(asio::ip::address_v4::loopback(), 0));
    const std::string address = "127.0.0.1:" + std::to_string(acceptor.local_endpoint().port());
    auto link = make_link(context, "tcp  " + address);
    REQUIRE(link.ok());
    CHECK((*link)->name() == "tcp " + address);
    tcp::socket server = acceptor.accept();
    asio::write(server, asio::buffer(std::string("W over\r\n")));
    std::string heard;
    asio::co_spawn(context, read_text(**link, 8, heard, *clock), asio::detached);
    clock->run();
    CHECK(heard == "W over\r\n");
    std::string outcome;
    asio::co_spawn(context, write_text(**link, "STOP\r", outcome, *clock), asio::detached);
    clock->run();
    std::string at_server(5, '\0');
    asio::read(server, asio::buffer(at_server));
    CHECK(at_server == "STOP\r");

    server.close();
    heard.clear();
    asio::co_spawn(context, read_text(**link, 1, heard, *clock), asio::detached);
    clock->run();
    CHECK(heard == "|link_lost");

    std::string reopened;
    asio::co_spawn(
        context,
        [](Link& lost, std::string& result, Clock& c) -> Task<void> {
            Outcome opened = co_await lost.reopen();
            result = opened.ok() ? "done" : opened.fault().what;
            c.stop();
        }(**link, reopened, *clock),
        asio::detached);
    clock->run();
    CHECK(reopened == "done");
    tcp::socket again = acceptor.accept();
    asio::write(again, asio::buffer(std::string("again")));
    heard.clear();
    asio::co_spawn(context, read_text(**link, 5, heard, *clock), asio::detached);
    clock->run();
    CHECK(heard == "again");
}

TEST_CASE("a link that cannot be opened says why") {
    CHECK(fault_of("") == "bad_value");
    CHECK(fault_of("serial") == "bad_value");
    CHECK(fault_of("carrier-pigeon 7") == "bad_value");
    CHECK(fault_of("tcp nowhere") == "bad_value");
    CHECK(fault_of("tcp 127.0.0.1:0") == "bad_value");
    CHECK(fault_of("tcp 127.0.0.1:70000") == "bad_value");
    CHECK(fault_of("tcp ::1:4001") == "bad_value");
    CHECK(fault_of("pty /dev/pts/none") == "file_missing");
    CHECK(fault_of("pty /dev/null") == "bad_value");
    CHECK(fault_of("pty two words") == "bad_value");
    CHECK(fault_of("serial /dev/none") == "file_missing");
    CHECK(fault_of("serial usb:NO-SUCH-ADAPTER") == "file_missing");
    // Nobody listens: a port that was free a moment ago.
    asio::io_context context;
    tcp::acceptor acceptor(context, tcp::endpoint(asio::ip::address_v4::loopback(), 0));
    const std::string address = "tcp 127.0.0.1:" + std::to_string(acceptor.local_endpoint().port());
    acceptor.close();
    CHECK(fault_of(address) == "link_lost");
}

TEST_CASE("the serial ports can be listed, also where there are none") {
    CHECK(list_serial_ports().ok());
}

TEST_CASE("an instrument works over a pseudo-terminal as over any link") {
    asio::io_context context;
    const auto clock = make_wall_clock(context);
    Terminal terminal;
    auto profile = load_profile("generic-pump-ascii", tipwright::test::source_dir() + "/templates");
    REQUIRE(profile.ok());
    auto link = make_link(context, "pty " + terminal.path(), profile->serial);
    REQUIRE(link.ok());
    auto pump = make_pump(*profile, std::move(*link), *clock, context);
    REQUIRE(pump.ok());
    std::thread device([&] {
        const std::string command = terminal.hear(12);
        if (command == "FLOW 12.500\r") terminal.say("OK FLOW 12.500\r\n");
    });
    std::string outcome;
    asio::co_spawn(
        context,
        [](Pump& p, std::string& result, Clock& c) -> Task<void> {
            Outcome set = co_await p.set_flow(TestPermit::get(), 12.5);
            result = set.ok() ? "done" : set.fault().line();
            c.stop();
        }(**pump, outcome, *clock),
        asio::detached);
    clock->run();
    device.join();
    CHECK(outcome == "done");
}
