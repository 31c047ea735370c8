#include "bench/instruments/tip_counter/protocol.hpp"

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "bench/instruments/modbus_crc.hpp"
#include "bench/instruments/tip_counter/clock_fit.hpp"
#include "tests/bench/checksums.hpp"

using namespace tipwright::bench;
using tipwright::test::with_checksum;
using namespace std::string_literals;

namespace {

std::vector<std::string> counter_events(const std::vector<std::string>& pieces) {
    std::vector<std::string> events;
    std::string bytes;
    for (const std::string& piece : pieces) {
        bytes += piece;
        while (true) {
            const std::string held = bytes;
            const CounterParse parse = parse_counter(std::as_bytes(std::span(held)));
            if (parse.kind == CounterParse::Kind::need_more) break;
            REQUIRE(parse.consumed > 0);
            bytes.erase(0, parse.consumed);
            if (parse.kind == CounterParse::Kind::dropped) continue;
            const CounterLine& line = parse.line;
            if (!line.identity.empty()) {
                events.push_back("I " + std::to_string(line.sequence) + " " + std::string(line.identity));
                continue;
            }
            events.push_back(
                (line.heartbeat ? "H " : "E ") + std::to_string(line.sequence) + " " +
                std::to_string(line.device_us) +
                (line.heartbeat ? "" : " " + std::to_string(line.contact) + (line.closed ? " 1" : " 0")));
        }
    }
    return events;
}

using Events = std::vector<std::string>;

}  // namespace

// Modbus over serial line V1.02, 6.2.2 and the appendix' worked frame 02 07 -> CRC bytes 41 12, low byte
// first; check value of "123456789" from the catalogue of parametrised CRC algorithms (from memory).
TEST_CASE("CRC-16/MODBUS gives the published values") {
    CHECK(crc16_modbus("\x02\x07") == 0x1241);
    CHECK(crc16_modbus("123456789") == 0x4B37);
    CHECK(crc16_modbus("") == 0xFFFF);
}

TEST_CASE("tip counter: the table of frames") {
    const std::string edge = with_checksum("E 17 123456789 1 1");
    const std::string beat = with_checksum("H 18 125000000");
    CHECK(counter_events({edge}) == Events{"E 17 123456789 1 1"});
    CHECK(counter_events({beat}) == Events{"H 18 125000000"});
    CHECK(counter_events({with_checksum("E 4294967295 18446744073709551615 2 0")}) ==
          Events{"E 4294967295 18446744073709551615 2 0"});
    CHECK(counter_events({with_checksum("I 4294967295 18446744073709551615 twenty characters 20")}) ==
          Events{"I 4294967295 twenty characters 20"});
    // LF alone
    CHECK(counter_events({edge.substr(0, edge.size() - 2) + "\n"}) == Events{"E 17 123456789 1 1"});
    // wrong checksum
    CHECK(counter_events({"E 17 123456789 1 1 *0000\r\n" + beat}) == Events{"H 18 125000000"});
    // the right checksum, but nothing that says it is one
    for (const char* mark : {"_*", " #", "  "}) {
        std::string unmarked = edge;
        unmarked.replace(unmarked.find(" *"), 2, mark);
        INFO(unmarked);
        CHECK(counter_events({unmarked + beat}) == Events{"H 18 125000000"});
    }
    // cut short
    CHECK(counter_events({edge.substr(0, 12)}).empty());
    CHECK(counter_events({edge.substr(0, 12), beat}) == Events{"H 18 125000000"});
    CHECK(counter_events({edge.substr(5), beat}) == Events{"H 18 125000000"});
    // leading garbage, even of the letters that begin lines
    CHECK(counter_events({"\xff\0\x80"
                          "EH E 1"s +
                          edge}) == Events{"E 17 123456789 1 1"});
    CHECK(counter_events({std::string(500, 'E'), edge}) == Events{"E 17 123456789 1 1"});
    // two frames in one read, one in two, in single bytes
    CHECK(counter_events({edge + beat}) == Events{"E 17 123456789 1 1", "H 18 125000000"});
    CHECK(counter_events({edge.substr(0, 9), edge.substr(9) + beat.substr(0, 3), beat.substr(3)}) ==
          Events{"E 17 123456789 1 1", "H 18 125000000"});
    std::vector<std::string> single;
    for (char c : edge + beat) single.emplace_back(1, c);
    CHECK(counter_events(single) == Events{"E 17 123456789 1 1", "H 18 125000000"});
    // a good checksum over fields that are none
    for (const char* body :
         {"E 17 123456789 3 1", "E 17 123456789 1 2", "E 17 123456789 1", "E 17 123456789", "H 18",
          "H 18 1 1", "E -1 5 1 1", "E 4294967296 5 1 1", "X 1 2 1 1", "E  1 2 1 1", "I 18 1", "I 18 1 ",
          "I 18 1 \x01", "I 18 1 twenty-one characters", "E 1 2 1 1 ", "H 1 18446744073709551616"}) {
        INFO(body);
        CHECK(counter_events({with_checksum(body), beat}) == Events{"H 18 125000000"});
    }
    // a line without end
    CHECK(counter_events({std::string(1000, '7'), beat}) == Events{"H 18 125000000"});
}

TEST_CASE("tip counter: no flipped, lost or doubled byte passes") {
    const std::string edge = with_checksum("E 17 123456789 1 1");
    const std::string beat = with_checksum("H 18 125000000");
    for (std::size_t at = 0; at < edge.size(); ++at) {
        for (int bit = 0; bit < 8; ++bit) {
            std::string line = edge;
            line[at] = static_cast<char>(line[at] ^ (1 << bit));
            for (const std::string& event : counter_events({line + beat})) {
                INFO(line);
                // Only hexadecimal letters in lower case, or a changed line end, still say the same.
                CHECK((event == "H 18 125000000" || event == "E 17 123456789 1 1"));
            }
        }
        for (int twice : {0, 1}) {
            std::string line = edge;
            if (twice) {
                line.insert(at, 1, edge[at]);
            } else {
                line.erase(at, 1);
            }
            for (const std::string& event : counter_events({line + beat})) {
                CHECK((event == "H 18 125000000" || event == "E 17 123456789 1 1"));
            }
        }
    }
}

TEST_CASE("clock fit: without delay the device's clock is followed, intervals to microseconds") {
    // Device times are whole microseconds. Before 400 s a share of the drift is still being learnt.
    constexpr double interval_tolerance_s = 4e-6;
    for (const double drift : {0.0, 40e-6, -40e-6}) {
        ClockFit fit;
        double worst_s = 0;
        double worst_interval_s = 0;
        double last_error_s = 0;
        for (int i = 0; i <= 3600; ++i) {
            const double bench_s = 5 + 2.0 * i;
            const double device_s = std::floor((bench_s - 5) * (1 + drift) * 1e6) * 1e-6;
            fit.add(device_s, bench_s);
            const double error_s = fit.bench_time_s(device_s) - bench_s;
            worst_s = std::max(worst_s, std::abs(error_s));
            if (i > 200) worst_interval_s = std::max(worst_interval_s, std::abs(error_s - last_error_s));
            last_error_s = error_s;
        }
        INFO(drift);
        CHECK(worst_s < 5e-3);
        CHECK(worst_interval_s < interval_tolerance_s);
        CHECK(fit.drift() == Approx(1 / (1 + drift) - 1).margin(1e-7));
    }
}

// Delays as of a USB serial adapter: 1 to 17 ms, uniform. Intervals matter, not the least delay.
TEST_CASE("clock fit: delays of many milliseconds disturb intervals by far less") {
    std::mt19937 dice(7);
    std::uniform_real_distribution<double> delay_s(0.001, 0.017);
    ClockFit fit;
    const double drift = 30e-6;
    double last_error_s = 0;
    double worst_interval_s = 0;
    for (int i = 0; i <= 3600; ++i) {
        const double bench_s = 2.0 * i;
        const double device_s = bench_s * (1 + drift);
        fit.add(device_s, bench_s + delay_s(dice));
        const double error_s = fit.bench_time_s(device_s) - bench_s;
        if (i > 150) worst_interval_s = std::max(worst_interval_s, std::abs(error_s - last_error_s));
        last_error_s = error_s;
        CHECK(error_s < 0.018);
    }
    CHECK(worst_interval_s < 0.0005);
    CHECK(fit.drift() == Approx(-drift).margin(3e-6));
}

TEST_CASE("clock fit: an absurd drift is held at its limit") {
    ClockFit fit(1800, 300, 3e-4);
    for (int i = 0; i < 1000; ++i) fit.add(2.0 * i * 1.01, 2.0 * i);
    CHECK(fit.drift() == Approx(-3e-4).epsilon(0.01));
}
