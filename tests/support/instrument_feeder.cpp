#include "tests/support/instrument_feeder.hpp"

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <stdexcept>

#include "bench/instruments/modbus_crc.hpp"
#include "bench/virtual_bench/device_text.hpp"

namespace tipwright::test {

namespace {

constexpr double closed_s = 0.05;
constexpr double heartbeat_s = 2;
constexpr double never_s = 1e300;

struct Terminal {
    int master = -1;
    int slave = -1;  // held open, so that the line is never down
    std::string link;
    std::string command;

    Terminal() : master(::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK)) {
        std::array<char, 128> path{};
        if (master < 0 || ::grantpt(master) != 0 || ::unlockpt(master) != 0 ||
            ::ptsname_r(master, path.data(), path.size()) != 0)
            throw std::runtime_error("no pseudo-terminal");
        slave = ::open(path.data(), O_RDWR | O_NOCTTY);
        termios settings{};
        ::tcgetattr(slave, &settings);
        ::cfmakeraw(&settings);
        ::tcsetattr(slave, TCSANOW, &settings);
        link = "pty " + std::string(path.data());
    }
    void send(const std::string& text) const {
        // What nobody takes is lost, as on a line without flow control.
        static_cast<void>(!::write(master, text.data(), text.size()));
    }
};

struct Lane {
    Terminal pump, balance, counter, climate;
    double flow_mL_min = 0;
    double mass_g = 0;
    double at_s = 0;
    double next_print_s = 0;
    double next_tip_s = never_s;
    double opens_s = never_s;
    double next_heartbeat_s = 0;
    std::uint32_t lines = 0;
};

class Feeder {
public:
    Feeder(std::vector<Lane>& lanes, double tip_mL, double balance_hz, SentTimes& sent)
        : lanes_(lanes), tip_mL_(tip_mL), period_s_(1 / balance_hz), sent_(sent), start_s_(steady_s()) {
        for (std::size_t k = 0; k < lanes_.size(); ++k)
            lanes_[k].next_print_s =
                start_s_ + period_s_ * static_cast<double>(k) / static_cast<double>(lanes_.size());
    }

    void run() {
        std::vector<pollfd> ears;
        for (const Lane& lane : lanes_) {
            ears.push_back({lane.pump.master, POLLIN, 0});
            ears.push_back({lane.climate.master, POLLIN, 0});
        }
        while (true) {
            double next_s = never_s;
            for (std::size_t k = 0; k < lanes_.size(); ++k) next_s = std::min(next_s, play(k));
            const double wait_s = std::clamp(next_s - steady_s(), 0.0, 0.5);
            const timespec wait{0, static_cast<long>(wait_s * 1e9)};
            ::ppoll(ears.data(), ears.size(), &wait, nullptr);
            for (std::size_t k = 0; k < lanes_.size(); ++k) {
                if ((ears[2 * k].revents & POLLIN) != 0) hear(lanes_[k], lanes_[k].pump);
                if ((ears[2 * k + 1].revents & POLLIN) != 0) hear(lanes_[k], lanes_[k].climate);
            }
        }
    }

private:
    // Does what is due on a lane, and says when something is due next.
    double play(std::size_t k) {
        Lane& lane = lanes_[k];
        const double now_s = steady_s();
        if (now_s >= lane.next_tip_s) {
            edge(k, true);
            lane.opens_s = lane.next_tip_s + closed_s;
            lane.next_tip_s += 60 * tip_mL_ / lane.flow_mL_min;
        }
        if (now_s >= lane.opens_s) {
            edge(k, false);
            lane.opens_s = never_s;
        }
        if (now_s >= lane.next_heartbeat_s) {
            counter_line(k, "H", "");
            lane.next_heartbeat_s = now_s + heartbeat_s;
        }
        if (now_s >= lane.next_print_s) {
            lane.next_print_s += period_s_;
            let_flow(lane);
            std::string text = "W ";
            bench::append_right(text, bench::fixed_text(180 + lane.mass_g, 2), 7);
            lane.balance.send(text + " g moving\r\n");
        }
        return std::min({lane.next_tip_s, lane.opens_s, lane.next_heartbeat_s, lane.next_print_s});
    }

    void let_flow(Lane& lane) {
        const double now_s = steady_s();
        lane.mass_g += lane.flow_mL_min / 60 * 0.9982 * (now_s - lane.at_s);
        lane.at_s = now_s;
    }

    void edge(std::size_t k, bool closed) { counter_line(k, "E", closed ? " 1 1" : " 1 0"); }

    void counter_line(std::size_t k, const char* kind, const char* rest) {
        Lane& lane = lanes_[k];
        ++lane.lines;
        const double now_s = steady_s();
        const std::string body = std::string(kind) + " " + std::to_string(lane.lines) + " " +
                                 std::to_string(static_cast<std::uint64_t>((now_s - start_s_) * 1e6)) + rest;
        sent_.sent_s[k][lane.lines % feeder_lines_max].store(now_s);
        lane.counter.send(body + " *" + bench::hex4(bench::crc16_modbus(body)) + "\r\n");
    }

    void hear(Lane& lane, Terminal& terminal) {
        std::array<char, 256> bytes{};
        const ssize_t count = ::read(terminal.master, bytes.data(), bytes.size());
        for (ssize_t i = 0; i < count; ++i) {
            const char c = bytes[static_cast<std::size_t>(i)];
            if (c != '\r') {
                terminal.command += c;
                continue;
            }
            terminal.send(answer(lane, terminal.command) + "\r\n");
            terminal.command.clear();
        }
    }

    std::string answer(Lane& lane, const std::string& command) {
        if (command == "C?") return "water 20.13 C air 21.40 C pressure 1009.8 hPa humidity 48.0 %";
        if (command == "STOP") set_flow(lane, 0);
        if (command.starts_with("FLOW ")) set_flow(lane, std::strtod(command.c_str() + 5, nullptr));
        if (command == "DRAIN OPEN") lane.mass_g = 0;
        return "OK " + command;
    }

    void set_flow(Lane& lane, double flow_mL_min) {
        let_flow(lane);
        lane.flow_mL_min = flow_mL_min;
        lane.next_tip_s = flow_mL_min > 0 ? steady_s() + 60 * tip_mL_ / flow_mL_min : never_s;
    }

    std::vector<Lane>& lanes_;
    double tip_mL_;
    double period_s_;
    SentTimes& sent_;
    double start_s_;
};

}  // namespace

double steady_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

InstrumentFeeder::InstrumentFeeder(std::size_t lanes, double tip_mL, double balance_hz) {
    void* shared =
        ::mmap(nullptr, sizeof(SentTimes), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared == MAP_FAILED) throw std::runtime_error("no shared memory");
    sent_ = static_cast<SentTimes*>(shared);
    std::vector<Lane> terminals(lanes);
    for (const Lane& lane : terminals)
        lanes_.push_back({lane.pump.link, lane.balance.link, lane.counter.link, lane.climate.link});
    child_ = ::fork();
    if (child_ == 0) {
        Feeder(terminals, tip_mL, balance_hz, *sent_).run();
        std::_Exit(0);
    }
    for (const Lane& lane : terminals) {
        for (const Terminal* terminal : {&lane.pump, &lane.balance, &lane.counter, &lane.climate}) {
            ::close(terminal->master);
            ::close(terminal->slave);
        }
    }
}

InstrumentFeeder::~InstrumentFeeder() {
    ::kill(child_, SIGKILL);
    ::waitpid(child_, nullptr, 0);
    ::munmap(sent_, sizeof(SentTimes));
}

}  // namespace tipwright::test
