// A virtual bench in lockstep with somebody listening on all four links, for tests.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <regex>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/virtual_bench/virtual_bench.hpp"
#include "tests/bench/virtual_kinds.hpp"
#include "tests/support/test_send.hpp"

namespace tipwright::test {

using bench::BenchFaults;
using bench::BenchTruth;
using bench::Clock;
using bench::Link;
using bench::Task;
using bench::VirtualBench;

struct Heard {
    double time_s;
    std::string line;
};

// Everything that came over one link, cut into lines at CR LF.
struct Ear {
    std::string bytes;
    std::vector<Heard> lines;
    bool lost = false;
};

inline Task<void> hear(Clock& clock, Link& link, Ear& ear) {
    std::array<std::byte, 4096> buffer{};
    std::string rest;
    while (true) {
        const Result<std::size_t> got = co_await link.read_some(buffer);
        if (!got) break;
        const std::string chunk(reinterpret_cast<const char*>(buffer.data()), *got);
        ear.bytes += chunk;
        rest += chunk;
        for (std::size_t end = rest.find("\r\n"); end != std::string::npos; end = rest.find("\r\n")) {
            ear.lines.push_back({clock.now_s(), rest.substr(0, end)});
            rest.erase(0, end + 2);
        }
    }
    ear.lost = true;
}

inline Task<void> say(Link& link, std::string text) {
    const Outcome written = co_await link.write(bench::TestSend::right(), std::as_bytes(std::span(text)));
    (void)written;
}

struct Command {
    double at_s;
    std::string role;
    std::string text;
};

// One virtual bench in lockstep, with commands at given times.
struct Session {
    boost::asio::io_context context;
    std::unique_ptr<Clock> clock = bench::make_lockstep_clock(context);
    std::unique_ptr<VirtualBench> virtual_bench;
    std::array<std::unique_ptr<Link>, 4> links;
    std::array<Ear, 4> ears;

    Session(const VirtualKind& kind, std::uint64_t seed, const calib::BenchMetrology& metrology = {},
            const BenchFaults& faults = {}, const BenchTruth& truth = {})
        : virtual_bench(std::make_unique<VirtualBench>(*clock, context, kind.gauge, kind.truth, truth,
                                                       metrology, seed, faults)) {
        for (std::size_t i = 0; i < 4; ++i) {
            links[i] = virtual_bench->take_link(VirtualBench::roles[i]);
            boost::asio::co_spawn(context, hear(*clock, *links[i], ears[i]), boost::asio::detached);
        }
        virtual_bench->start();
    }

    Link& link(const std::string& role) {
        for (std::size_t i = 0; i < 4; ++i) {
            if (VirtualBench::roles[i] == role) return *links[i];
        }
        throw std::runtime_error(role);
    }
    Ear& ear(const std::string& role) {
        for (std::size_t i = 0; i < 4; ++i) {
            if (VirtualBench::roles[i] == role) return ears[i];
        }
        throw std::runtime_error(role);
    }

    Task<void> follow(std::vector<Command> commands, double end_s) {
        for (const Command& command : commands) {
            co_await clock->sleep_until(command.at_s);
            co_await say(link(command.role), command.text);
        }
        co_await clock->sleep_until(end_s);
        clock->stop();
    }

    void run(std::vector<Command> commands, double end_s) {
        boost::asio::co_spawn(context, follow(std::move(commands), end_s), boost::asio::detached);
        clock->run();
        virtual_bench->physics().advance_to(end_s);
    }

    ~Session() { virtual_bench->stop(); }
};

inline std::vector<std::string> texts(const Ear& ear) {
    std::vector<std::string> result;
    for (const Heard& heard : ear.lines) result.push_back(heard.line);
    return result;
}

inline const std::regex balance_line(R"(W ( *-?[0-9]+\.[0-9]{2}) g (stable|moving))");
inline const std::regex edge_line(R"((E ([0-9]+) ([0-9]+) ([12]) ([01])) \*([0-9A-F]{4}))");
inline const std::regex heartbeat_line(R"((H ([0-9]+) ([0-9]+)) \*([0-9A-F]{4}))");
inline const std::regex climate_line(
    R"(water (-?[0-9]+\.[0-9]{2}) C air (-?[0-9]+\.[0-9]{2}) C pressure ([0-9]+\.[0-9]) hPa humidity ([0-9]+\.[0-9]) %)");

}  // namespace tipwright::test
