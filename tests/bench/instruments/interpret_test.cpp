// What a profile makes of bytes, in words: for each family a line that is understood and one that is not,
// with the place where it stops fitting.
#include "bench/instruments/interpret.hpp"

#include <catch2/catch.hpp>

#include "bench/instruments/modbus_crc.hpp"
#include "tests/bench/checksums.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using tipwright::test::with_crc;
using namespace std::string_literals;

namespace {

std::unique_ptr<Interpreter> interpreter(const std::string& profile) {
    const auto loaded = load_profile(profile, tipwright::test::source_dir() + "/templates");
    REQUIRE(loaded);
    return make_interpreter(*loaded);
}

Meaning only(const std::vector<Meaning>& meanings) {
    REQUIRE(meanings.size() == 1);
    return meanings[0];
}

}  // namespace

TEST_CASE("interpreter: lines of a balance, and why a line is none") {
    const auto balance = interpreter("generic-balance-print");
    CHECK(balance->came("W   12.").empty());
    const Meaning reading = only(balance->came("34 g stable\r\n"));
    CHECK(reading.understood);
    CHECK(reading.text == "12.34 g, stable, shown to 0.01 g");
    CHECK(only(balance->came("W over\r\n")).text == "overload");
    CHECK(only(balance->came("ERR busy\r\n")).text == "refusal: busy");
    CHECK(only(balance->sent("TARE\r")).text == "command tare");
    CHECK(only(balance->came("OK TARE\r\n")).text == "answer to tare");

    const Meaning other = only(balance->came("W   12.34 kg standing\r\n"));
    CHECK_FALSE(other.understood);
    REQUIRE(other.hints.size() >= 3);
    CHECK(other.hints[0] ==
          "W {mass:7} {unit} stable   column 14: wants \"stable\", the line has \"standing\"");
    const Meaning unit = only(balance->came("W   12.34 lb stable\r\n"));
    CHECK_FALSE(unit.understood);
    CHECK(unit.hints[0] == "W {mass:7} {unit} stable   fits, but its unit or its values are impossible");
}

TEST_CASE("interpreter: a climate sensor and a pump") {
    const auto climate = interpreter("generic-climate-ascii");
    const Meaning reading =
        only(climate->came("water 20.47 C air 21.30 C pressure 1007.7 hPa humidity 51.3 %\r\n"));
    CHECK(reading.understood);
    CHECK(reading.text == "water 20.47 degC, air 21.30 degC, 1007.7 hPa, 51.3 %");
    const auto pump = interpreter("generic-pump-ascii");
    CHECK(only(pump->sent("FLOW 12.500\r")).text == "command set_flow: flow_mL_min 12.500");
    CHECK(only(pump->came("OK FLOW 12.500\r\n")).text == "answer to set_flow: flow_mL_min 12.500");
}

TEST_CASE("interpreter: counter lines, their checksums and their gaps") {
    const auto counter = interpreter("generic-tip-counter");
    const auto line = [](const std::string& body) {
        char tail[16];
        std::snprintf(tail, sizeof tail, " *%04X\r\n", crc16_modbus(body));
        return body + tail;
    };
    CHECK(only(counter->sent("ID?\r")).text == "asks who it is");
    CHECK(only(counter->came(line("I 6 1000000 my counter 7"))).text ==
          "answer to identify: my counter 7 at 1.000000 s of its clock");
    CHECK(only(counter->came(line("H 7 2000000"))).text == "heartbeat at 2.000000 s of its clock");
    CHECK(only(counter->came(line("E 8 2500001 2 1"))).text == "contact 2 closed at 2.500001 s of its clock");
    CHECK(only(counter->came(line("E 11 2600000 2 0"))).text ==
          "contact 2 opened at 2.600000 s of its clock; line 11 after line 8");
    const Meaning bad = only(counter->came("H 7 2000001 *0000\r\n"));
    CHECK_FALSE(bad.understood);
    REQUIRE(bad.hints.size() == 1);
    CHECK(bad.hints[0].find("the checksum is not the CRC-16/MODBUS of what is before it, the line has "
                            "\"0000\", right would be ") == 0);
}

// The frame of the answer is that of "MODBUS Application Protocol V1.1b3", 6.4, made longer for this profile.
TEST_CASE("interpreter: Modbus questions and answers, a wrong CRC and an exception") {
    const auto balance = interpreter("generic-balance-modbus");
    const std::string question = with_crc("\x01\x04\x00\x00\x00\x03"s);
    CHECK(only(balance->sent(question)).text == "reads input registers 0 to 2 of unit 1");
    const Meaning reading = only(balance->came(with_crc("\x01\x04\x06\x00\x00\x04\xD2\x00\x01"s)));
    CHECK(reading.understood);
    CHECK(reading.text == "0000 04D2 0001, mass_g 12.34, status 1 (stable)");
    (void)balance->sent(question);
    const Meaning exception = only(balance->came(with_crc("\x01\x84\x02"s)));
    CHECK(exception.text == "exception 2: illegal data address");
    (void)balance->sent(question);
    const auto damaged = balance->came("\x01\x04\x06\x00\x00\x04\xD2\x00\x01\x00\x00"s);
    REQUIRE(!damaged.empty());
    CHECK_FALSE(damaged[0].understood);
    CHECK(damaged[0].hints[0].find("the CRC is not right, the line has 00 00, right would be ") == 0);
}

TEST_CASE("interpreter: SCPI responses") {
    const auto balance = interpreter("generic-balance-scpi");
    (void)balance->sent("READ?\n");
    const Meaning reading = only(balance->came("+1.2340E+01,1\n"));
    CHECK(reading.understood);
    CHECK(reading.text == "mass_g 12.34, status 1 (stable)");
    const Meaning lacking = only(balance->came("+1.2340E+01\n"));
    CHECK_FALSE(lacking.understood);
    REQUIRE(lacking.hints.size() == 1);
    CHECK(lacking.hints[0] == "the profile's values are 2, the line has 1");
    const Meaning letters = only(balance->came("abc,1\n"));
    CHECK_FALSE(letters.understood);
    REQUIRE(letters.hints.size() == 1);
    CHECK(letters.hints[0] == "mass_g is not an NR1, NR2 or NR3 number, the line has \"abc\"");
    (void)balance->sent("SYST:ERR?\n");
    CHECK(only(balance->came("-113,\"Undefined header\"\n")).text == "error -113: Undefined header");
    // A command's end is known by its *OPC?.
    (void)balance->sent("CAL:ZERO;*OPC?\n");
    const Meaning done = only(balance->came("1\n"));
    CHECK(done.understood);
    CHECK(done.text == "done");
    (void)balance->sent("CAL:ZERO;*OPC?\n");
    const Meaning still = only(balance->came("0\n"));
    CHECK_FALSE(still.understood);
    CHECK(still.text == "*OPC? is answered by 1 when done");
}
