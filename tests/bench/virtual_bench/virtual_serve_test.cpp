#include "bench/virtual_bench/serve.hpp"

#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <csignal>
#include <regex>
#include <string>
#include <thread>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <catch2/catch.hpp>

#include "tests/bench/virtual_kinds.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr double speed = 200;
constexpr int patience_ms = 5000;  // real; only a failing test waits so long

ServeSettings settings_on(ServeOn on) {
    const test::VirtualKind kind = test::virtual_kinds()[1];
    ServeSettings settings;
    settings.gauge = kind.gauge;
    settings.gauge_truth = kind.truth;
    settings.on = on;
    return settings;
}

// The other end of a line, as a separate program has it: a file descriptor and nothing else.
class Visitor {
public:
    explicit Visitor(const std::string& address) {
        if (address.starts_with("pty ")) {
            fd_ = ::open(address.substr(4).c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK);
        } else {
            const auto port = static_cast<std::uint16_t>(std::stoi(address.substr(address.rfind(':') + 1)));
            fd_ = ::socket(AF_INET, SOCK_STREAM, 0);
            sockaddr_in there{};
            there.sin_family = AF_INET;
            there.sin_port = htons(port);
            there.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
            if (::connect(fd_, reinterpret_cast<const sockaddr*>(&there), sizeof there) != 0) fd_ = -1;
        }
    }
    ~Visitor() { ::close(fd_); }
    Visitor(const Visitor&) = delete;
    Visitor& operator=(const Visitor&) = delete;

    bool open() const { return fd_ >= 0; }

    void say(const std::string& text) const {
        REQUIRE(::write(fd_, text.data(), text.size()) == static_cast<ssize_t>(text.size()));
    }

    // Next whole line that matches; empty when none comes.
    std::string line(const std::string& pattern) {
        const std::regex wanted(pattern);
        while (true) {
            for (std::size_t end = heard_.find("\r\n"); end != std::string::npos; end = heard_.find("\r\n")) {
                const std::string first = heard_.substr(0, end);
                heard_.erase(0, end + 2);
                if (std::regex_match(first, wanted)) return first;
            }
            pollfd wait{fd_, POLLIN, 0};
            if (::poll(&wait, 1, patience_ms) <= 0) return "";
            char buffer[512];
            const ssize_t got = ::read(fd_, buffer, sizeof buffer);
            if (got <= 0) return "";
            heard_.append(buffer, static_cast<std::size_t>(got));
        }
    }

private:
    int fd_ = -1;
    std::string heard_;
};

// Serves on a thread of its own, as a separate process would.
struct Serving {
    boost::asio::io_context context;
    std::unique_ptr<Clock> clock = make_wall_clock(context, speed);
    std::unique_ptr<BenchServer> server;
    std::thread thread;

    explicit Serving(const ServeSettings& settings) {
        auto opened = BenchServer::open(context, *clock, settings);
        REQUIRE(opened.ok());
        server = std::move(*opened);
        thread = std::thread([this] { clock->run(); });
    }
    ~Serving() {
        // Posted, so that it also ends a run that is only about to begin.
        boost::asio::post(context, [this] { clock->stop(); });
        thread.join();
        server->bench().stop();
    }
    std::string address(const std::string& role) const {
        for (const ServedInstrument& instrument : server->instruments()) {
            if (instrument.role == role) return instrument.address;
        }
        return "";
    }
};

}  // namespace

TEST_CASE("a virtual bench is served on pseudo-terminals and on TCP, and visitors may come again") {
    const ServeOn on = GENERATE(ServeOn::pseudo_terminals, ServeOn::tcp);
    Serving serving(settings_on(on));
    for (int visit = 0; visit < 3; ++visit) {
        CAPTURE(visit);
        Visitor pump(serving.address("pump"));
        Visitor balance(serving.address("balance"));
        Visitor counter(serving.address("counter"));
        Visitor climate(serving.address("climate"));
        REQUIRE((pump.open() && balance.open() && counter.open() && climate.open()));
        pump.say("ID?\r");
        CHECK(pump.line("ID .*") == "ID virtual-pump 1");
        CHECK(balance.line("W .{7} g (stable|moving)") != "");
        pump.say("FLOW 250\r");
        CHECK(pump.line("OK FLOW.*") == "OK FLOW 250.000");
        CHECK(counter.line("H .*") != "");
        CHECK(counter.line("E [0-9]+ [0-9]+ [12] [01] \\*[0-9A-F]{4}") != "");
        climate.say("C?\r");
        CHECK(climate.line("water .*") != "");
        pump.say("STOP\r");
        CHECK(pump.line("OK.*") == "OK STOP");
    }
}

TEST_CASE("a lost link closes the line for the visitor") {
    const ServeOn on = GENERATE(ServeOn::pseudo_terminals, ServeOn::tcp);
    ServeSettings settings = settings_on(on);
    settings.faults.link_lost_at_s = 20;
    settings.faults.link_lost_role = "balance";
    Serving serving(settings);
    Visitor balance(serving.address("balance"));
    Visitor pump(serving.address("pump"));
    while (balance.line("W .*") != "") {
    }
    pump.say("ID?\r");
    CHECK(pump.line("ID .*") == "ID virtual-pump 1");
}

TEST_CASE("a port in use and a nonsensical speed are faults") {
    Serving serving(settings_on(ServeOn::tcp));
    const std::string taken = serving.address("pump");
    ServeSettings settings = settings_on(ServeOn::tcp);
    settings.first_port = static_cast<std::uint16_t>(std::stoi(taken.substr(taken.rfind(':') + 1)));
    boost::asio::io_context context;
    const auto clock = make_wall_clock(context, speed);
    const auto second = BenchServer::open(context, *clock, settings);
    REQUIRE_FALSE(second.ok());
    CHECK(second.fault().code == FaultCode::file_unwritable);

    const Outcome outcome = serve(settings_on(ServeOn::tcp), 0, 0, [](const auto&) {});
    REQUIRE_FALSE(outcome.ok());
    CHECK(outcome.fault().code == FaultCode::bad_value);
}

TEST_CASE("serving ends after the time asked for, and at a signal") {
    std::size_t told = 0;
    const auto count = [&told](const std::vector<ServedInstrument>& instruments) {
        told = instruments.size();
    };
    CHECK(serve(settings_on(ServeOn::tcp), 1000, 10, count).ok());
    CHECK(told == 4);
    const Outcome stopped =
        serve(settings_on(ServeOn::pseudo_terminals), 1, 0, [](const auto&) { std::raise(SIGTERM); });
    CHECK(stopped.ok());
}
