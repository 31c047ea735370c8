#include "bench/virtual_bench/virtual_bench.hpp"

#include <array>
#include <cmath>
#include <memory>
#include <regex>
#include <span>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/modbus_crc.hpp"
#include "bench/virtual_bench/device_text.hpp"
#include "bench/virtual_bench/devices.hpp"
#include "tests/bench/virtual_kinds.hpp"
#include "tests/bench/virtual_session.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("the pump answers its commands and refuses others") {
    Session session(test::virtual_kinds()[0], 1);
    session.run({{1, "pump", "ID?\r"},
                 {2, "pump", "FLOW 12.345\r"},
                 {3, "pump", "DRAIN OPEN\r"},
                 {4, "pump", "DRAIN CLOSE\r"},
                 {5, "pump", "FLOW 401\r"},
                 {6, "pump", "FLOW -1\r"},
                 {7, "pump", "FLOW nan\r"},
                 {8, "pump", "FLOW 1e2\r"},
                 {9, "pump", "FLOW \r"},
                 {10, "pump", "flow 3\r"},
                 {11, "pump", "\r\n\r"},
                 {12, "pump", std::string(5000, 'X') + "\r"},
                 {13, "pump", "STOP\rID?\r"},
                 {14, "pump", "FLO"},
                 {15, "pump", "W 0.5\r"}},
                20);
    CHECK(texts(session.ear("pump")) ==
          std::vector<std::string>{"ID virtual-pump 1", "OK FLOW 12.345", "OK DRAIN OPEN", "OK DRAIN CLOSE",
                                   "ERR flow out of range", "ERR flow out of range", "ERR flow out of range",
                                   "ERR not a number", "ERR not a number", "ERR unknown command",
                                   "ERR too long", "OK STOP", "ID virtual-pump 1", "OK FLOW 0.500"});
    CHECK(session.virtual_bench->physics().pump().commanded_mL_min() == Approx(0.5));
}

TEST_CASE("the balance prints at its rate, in fixed width, and takes a tare") {
    Session session(test::virtual_kinds()[1], 2);
    session.run({{10, "balance", "TARE\r"},
                 {11, "balance", "ID?\r"},
                 {12, "balance", "ZERO\r"},
                 {13, "balance", "W?\r"},
                 {20, "pump", "FLOW 100\r"}},
                120);
    int readings = 0;
    int stable = 0;
    int moving_while_pouring = 0;
    double last_g = 0;
    std::vector<std::string> others;
    for (const Heard& heard : session.ear("balance").lines) {
        std::smatch match;
        if (!std::regex_match(heard.line, match, balance_line)) {
            others.push_back(heard.line);
            continue;
        }
        ++readings;
        CHECK(heard.line.size() == std::string("W   12.34 g stable").size());
        last_g = std::stod(match[1]);
        stable += match[2] == "stable" && heard.time_s < 20 ? 1 : 0;
        moving_while_pouring += match[2] == "moving" && heard.time_s > 40 ? 1 : 0;
        if (heard.time_s < 10) CHECK(last_g == Approx(180).margin(0.1));
        if (heard.time_s > 10.3 && heard.time_s < 20) CHECK(std::abs(last_g) < 0.06);
    }
    CHECK(others == std::vector<std::string>{"OK TARE", "ID virtual-balance 1", "ERR unknown command"});
    CHECK(readings == 120 * 5);  // one every 0.2 s, the last still to come, and the one asked for
    CHECK(stable > 80);
    CHECK(moving_while_pouring > 200);
    // What the vessel holds is what the balance shows, but for filter, drain and buoyancy.
    CHECK(last_g == Approx(session.virtual_bench->physics().water().in_vessel_mL * 0.998).margin(8));
    CHECK(last_g > 100);
}

TEST_CASE("the balance says so when it is overloaded") {
    calib::BenchMetrology metrology;
    metrology.balance.capacity_g = 300;
    Session session(test::virtual_kinds()[1], 2, metrology);
    session.run({{1, "pump", "FLOW 200\r"}}, 90);
    const auto lines = texts(session.ear("balance"));
    CHECK(lines.back() == "W over");
    CHECK(std::regex_match(lines.front(), balance_line));
}

TEST_CASE("the counter reports every contact change, checked, numbered, on time") {
    for (const test::VirtualKind& kind : test::virtual_kinds()) {
        CAPTURE(kind.name);
        Session session(kind, 4);
        session.run({{0.5, "pump", "FLOW 60\r"}}, 400);
        std::uint32_t sequence = 0;
        std::uint64_t last_us = 0;
        std::array<int, 2> edges{};
        std::array<int, 2> closures{};
        std::array<double, 2> last_closure_s = {-1, -1};
        std::array<bool, 2> closed{};
        for (std::size_t i = 0; i < kind.gauge.contacts.size(); ++i)
            closed[i] = kind.gauge.contacts[i].normally_closed;
        double last_heartbeat_s = -2;
        const SystematicErrors& errors = session.virtual_bench->physics().errors();
        for (const Heard& heard : session.ear("counter").lines) {
            std::smatch match;
            const bool is_edge = std::regex_match(heard.line, match, edge_line);
            if (!is_edge) REQUIRE(std::regex_match(heard.line, match, heartbeat_line));
            CHECK(hex4(crc16_modbus(match[1].str())) == (is_edge ? match[6] : match[4]).str());
            CHECK(std::stoul(match[2]) == ++sequence);
            const auto device_us = std::stoull(match[3]);
            CHECK(device_us >= last_us);
            last_us = device_us;
            const double true_s = (static_cast<double>(device_us) / 1e6 - errors.counter_offset_s) /
                                  (1 + errors.counter_rate_relative);
            // Lines leave at the moment of the change itself, rounded down to a microsecond.
            CHECK(heard.time_s - true_s == Approx(0).margin(2e-6));
            if (!is_edge) {
                CHECK(heard.time_s - last_heartbeat_s <= 2.0001);
                last_heartbeat_s = heard.time_s;
                continue;
            }
            const auto contact = static_cast<std::size_t>(std::stoi(match[4]) - 1);
            REQUIRE(contact < kind.gauge.contacts.size());
            ++edges[contact];
            const bool now_closed = match[5] == "1";
            CHECK(now_closed != closed[contact]);
            closed[contact] = now_closed;
            const bool active = now_closed != kind.gauge.contacts[contact].normally_closed;
            if (active && true_s - last_closure_s[contact] > kind.gauge.debounce_s) {
                ++closures[contact];
                last_closure_s[contact] = true_s;
            }
        }
        const auto tips = static_cast<int>(session.virtual_bench->physics().tips());
        CHECK(tips > 50);
        for (std::size_t i = 0; i < kind.gauge.contacts.size(); ++i) {
            // A tip may be under way at the end.
            CHECK(closures[i] <= tips);
            CHECK(closures[i] >= tips - 1);
            CHECK(edges[i] > 2 * closures[i]);  // there is bounce
        }
    }
}

TEST_CASE("the climate sensor shows the truth with its own offsets") {
    Session session(test::virtual_kinds()[0], 6);
    session.run({{1, "climate", "C?\r"}, {2, "climate", "ID?\r"}, {3, "climate", "T?\r"}}, 5);
    const auto lines = texts(session.ear("climate"));
    REQUIRE(lines.size() == 3);
    std::smatch match;
    REQUIRE(std::regex_match(lines[0], match, climate_line));
    const SystematicErrors& errors = session.virtual_bench->physics().errors();
    CHECK(std::stod(match[1]) == Approx(20.5 + errors.water_temperature_offset_C).margin(0.06));
    CHECK(std::stod(match[2]) == Approx(21 + errors.air_temperature_offset_C).margin(0.12));
    CHECK(std::stod(match[3]) == Approx(1008 + errors.air_pressure_offset_hPa).margin(0.4));
    CHECK(std::stod(match[4]) == Approx(48 + errors.relative_humidity_offset_percent).margin(0.6));
    CHECK(lines[1] == "ID virtual-climate 1");
    CHECK(lines[2] == "ERR unknown command");
}

TEST_CASE("one seed gives the same bytes, another seed others") {
    const auto bytes = [](std::uint64_t seed) {
        Session session(test::virtual_kinds()[2], seed);
        session.run({{1, "pump", "FLOW 90\r"}, {2, "climate", "C?\r"}}, 200);
        std::string all;
        for (const Ear& ear : session.ears) all += ear.bytes;
        return all;
    };
    const std::string once = bytes(5);
    CHECK(once == bytes(5));
    CHECK(once != bytes(6));
    // The bytes themselves, so that a change of compiler, library or machine shows.
    CHECK(crc16_modbus(once) == 59227);
}

TEST_CASE("links are given once, and unknown roles have none") {
    boost::asio::io_context context;
    const auto clock = make_lockstep_clock(context);
    const test::VirtualKind kind = test::virtual_kinds()[0];
    VirtualBench bench(*clock, context, kind.gauge, kind.truth, {}, {}, 1);
    CHECK(bench.take_link("pump") != nullptr);
    CHECK(bench.take_link("pump") == nullptr);
    CHECK(bench.take_link("toaster") == nullptr);
}

TEST_CASE("display steps become text with the decimals the step needs") {
    CHECK(DisplayScale(0.01).text(1234) == "12.34");
    CHECK(DisplayScale(0.01).text(-5) == "-0.05");
    CHECK(DisplayScale(0.01).text(0) == "0.00");
    CHECK(DisplayScale(0.02).text(3) == "0.06");
    CHECK(DisplayScale(0.05).text(21) == "1.05");
    CHECK(DisplayScale(0.001).text(-12345) == "-12.345");
    CHECK(DisplayScale(0.1).text(99) == "9.9");
    CHECK(DisplayScale(1).text(-7) == "-7");
    CHECK(DisplayScale(5).text(3) == "15");
    CHECK(fixed_text(-0.0004, 3) == "0.000");
    CHECK(fixed_text(-0.0006, 3) == "-0.001");
    CHECK(hex4(0x0AF9) == "0AF9");
}

TEST_CASE("the checksum is CRC-16/MODBUS") {
    // Check value of the catalogue entry for the nine digits, and the example frame of Modbus over serial
    // line V1.02, 6.2.2 (address 2, function 7: 41 12 on the wire, low byte first); both from memory.
    CHECK(crc16_modbus("123456789") == 0x4B37);
    CHECK(crc16_modbus(std::string("\x02\x07", 2)) == 0x1241);
}
