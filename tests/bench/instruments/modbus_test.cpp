// Modbus RTU against the open specifications. The frames are the worked examples of "MODBUS Application
// Protocol V1.1b3", 6.3, 6.4, 6.6 and 6.12, put into RTU frames; their CRCs and the worked CRC of "MODBUS
// over serial line V1.02", appendix B, from memory: the CRC proves them.
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/make.hpp"
#include "bench/instruments/modbus/protocol.hpp"
#include "bench/instruments/stop_messages.hpp"
#include "tests/bench/checksums.hpp"
#include "tests/bench/shipped_profile.hpp"
#include "tests/support/test_permit.hpp"
#include "tests/support/test_send.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using tipwright::test::shipped;
using tipwright::test::with_crc;
namespace asio = boost::asio;

namespace {

std::string bytes_of(const std::vector<int>& values) {
    std::string bytes;
    for (const int value : values) bytes += static_cast<char>(value);
    return bytes;
}

ModbusRequest read_request(ModbusFunction function, std::uint16_t address, std::uint16_t count,
                           int unit = 0x11) {
    ModbusRequest request;
    request.unit = unit;
    request.function = function;
    request.address = address;
    request.count = count;
    return request;
}

ModbusRequest write_request(ModbusFunction function, std::uint16_t address,
                            std::vector<std::uint16_t> values) {
    ModbusRequest request;
    request.unit = 0x11;
    request.function = function;
    request.address = address;
    request.values = std::move(values);
    return request;
}

std::vector<std::string> parsed(const std::vector<std::string>& pieces, const ModbusRequest& request) {
    std::vector<std::string> events;
    std::string bytes;
    for (const std::string& piece : pieces) {
        bytes += piece;
        while (true) {
            const ModbusParse parse = parse_modbus(std::as_bytes(std::span(bytes)), request);
            if (parse.kind == ModbusParse::Kind::need_more) break;
            REQUIRE(parse.consumed > 0);
            bytes.erase(0, parse.consumed);
            if (parse.kind == ModbusParse::Kind::dropped) continue;
            if (parse.kind == ModbusParse::Kind::exception) {
                events.push_back("exception " + std::to_string(parse.exception));
                continue;
            }
            std::string text = "ok";
            for (const std::uint16_t value : parse.values) text += " " + std::to_string(value);
            events.push_back(text);
        }
    }
    return events;
}

using Events = std::vector<std::string>;

}  // namespace

TEST_CASE("Modbus frames are those of the specification's examples") {
    CHECK(with_crc(bytes_of({0x02, 0x07})) == bytes_of({0x02, 0x07, 0x41, 0x12}));
    CHECK(modbus_frame(read_request(ModbusFunction::read_holding, 0x006B, 3)) ==
          bytes_of({0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87}));
    CHECK(modbus_frame(read_request(ModbusFunction::read_input, 0x0008, 1)) ==
          bytes_of({0x11, 0x04, 0x00, 0x08, 0x00, 0x01, 0xB2, 0x98}));
    CHECK(modbus_frame(write_request(ModbusFunction::write_one, 0x0001, {3})) ==
          bytes_of({0x11, 0x06, 0x00, 0x01, 0x00, 0x03, 0x9A, 0x9B}));
    CHECK(modbus_frame(write_request(ModbusFunction::write_many, 0x0001, {0x000A, 0x0102})) ==
          bytes_of({0x11, 0x10, 0x00, 0x01, 0x00, 0x02, 0x04, 0x00, 0x0A, 0x01, 0x02, 0xC6, 0xF0}));
}

TEST_CASE("Modbus responses are read, exceptions told") {
    const ModbusRequest holding = read_request(ModbusFunction::read_holding, 0x006B, 3);
    // 6.3: registers 555, 0, 100.
    CHECK(parsed({with_crc(bytes_of({0x11, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64}))}, holding) ==
          Events{"ok 555 0 100"});
    const ModbusRequest input = read_request(ModbusFunction::read_input, 0x0008, 1);
    CHECK(parsed({bytes_of({0x11, 0x04, 0x02, 0x00, 0x0A, 0xF8, 0xF4})}, input) == Events{"ok 10"});
    const ModbusRequest one = write_request(ModbusFunction::write_one, 0x0001, {3});
    CHECK(parsed({bytes_of({0x11, 0x06, 0x00, 0x01, 0x00, 0x03, 0x9A, 0x9B})}, one) == Events{"ok"});
    const ModbusRequest many = write_request(ModbusFunction::write_many, 0x0001, {0x000A, 0x0102});
    CHECK(parsed({bytes_of({0x11, 0x10, 0x00, 0x01, 0x00, 0x02, 0x12, 0x98})}, many) == Events{"ok"});
    // 7: function code plus 80, then the code.
    CHECK(parsed({with_crc(bytes_of({0x11, 0x83, 0x02}))}, holding) == Events{"exception 2"});
    CHECK(parsed({with_crc(bytes_of({0x11, 0x90, 0x04}))}, many) == Events{"exception 4"});
    CHECK(modbus_exception_text(2) == "illegal data address");
    // A confirmation of another write is none.
    CHECK(parsed({with_crc(bytes_of({0x11, 0x06, 0x00, 0x01, 0x00, 0x04}))}, one).empty());
    CHECK(parsed({with_crc(bytes_of({0x11, 0x06, 0x00, 0x02, 0x00, 0x03}))}, one).empty());
    CHECK(parsed({with_crc(bytes_of({0x11, 0x10, 0x00, 0x01, 0x00, 0x01}))}, many).empty());
}

TEST_CASE("Modbus: the table of frames") {
    const ModbusRequest request = read_request(ModbusFunction::read_input, 0x0008, 1);
    const std::string good = bytes_of({0x11, 0x04, 0x02, 0x00, 0x0A, 0xF8, 0xF4});
    CHECK(parsed({good}, request) == Events{"ok 10"});
    CHECK(parsed({bytes_of({0x11, 0x04, 0x02, 0x00, 0x0A, 0xF8, 0xF5}), good}, request) == Events{"ok 10"});
    CHECK(parsed({good.substr(0, 5)}, request).empty());
    CHECK(parsed({good.substr(3), good}, request) == Events{"ok 10"});
    CHECK(parsed({bytes_of({0xFF, 0x00, 0x11, 0x11, 0x04}) + good}, request) == Events{"ok 10"});
    CHECK(parsed({good + good}, request) == Events{"ok 10", "ok 10"});
    CHECK(parsed({good.substr(0, 3), good.substr(3)}, request) == Events{"ok 10"});
    std::vector<std::string> single;
    for (const char c : good) single.emplace_back(1, c);
    CHECK(parsed(single, request) == Events{"ok 10"});
    // another unit, another function, another count
    CHECK(parsed({with_crc(bytes_of({0x12, 0x04, 0x02, 0x00, 0x0A}))}, request).empty());
    CHECK(parsed({with_crc(bytes_of({0x11, 0x03, 0x02, 0x00, 0x0A}))}, request).empty());
    CHECK(parsed({with_crc(bytes_of({0x11, 0x04, 0x04, 0x00, 0x0A, 0x00, 0x0A}))}, request).empty());
    for (std::size_t at = 0; at < good.size(); ++at) {
        for (int bit = 0; bit < 8; ++bit) {
            std::string flipped = good;
            flipped[at] = static_cast<char>(flipped[at] ^ (1 << bit));
            CHECK(parsed({flipped}, request).empty());
        }
    }
}

TEST_CASE("Modbus: numbers in registers go there and back") {
    CHECK(modbus_number(ModbusType::int16, std::vector<std::uint16_t>{0xFFFE}, false) == -2);
    CHECK(modbus_number(ModbusType::uint16, std::vector<std::uint16_t>{0xFFFE}, false) == 65534);
    CHECK(modbus_number(ModbusType::uint32, std::vector<std::uint16_t>{0x0001, 0x0002}, false) == 65538);
    CHECK(modbus_number(ModbusType::uint32, std::vector<std::uint16_t>{0x0001, 0x0002}, true) == 131073);
    CHECK(modbus_number(ModbusType::int32, std::vector<std::uint16_t>{0xFFFF, 0xFFFE}, false) == -2);
    // IEEE 754: 12.5 is 41480000.
    CHECK(modbus_number(ModbusType::float32, std::vector<std::uint16_t>{0x4148, 0x0000}, false) == 12.5);
    for (const bool low_first : {false, true}) {
        for (const ModbusType type : {ModbusType::uint16, ModbusType::int16, ModbusType::uint32,
                                      ModbusType::int32, ModbusType::float32}) {
            for (const double number : {0.0, 1.0, 12345.0, 32767.0}) {
                const auto registers = modbus_registers_of(type, number, low_first);
                REQUIRE(registers);
                CHECK(modbus_number(type, *registers, low_first) == number);
            }
        }
    }
    CHECK(*modbus_registers_of(ModbusType::int16, -2, false) == std::vector<std::uint16_t>{0xFFFE});
    CHECK(*modbus_registers_of(ModbusType::int32, -2147483648.0, false) ==
          std::vector<std::uint16_t>{0x8000, 0});
    CHECK(*modbus_registers_of(ModbusType::uint32, 4294967295.0, false) ==
          std::vector<std::uint16_t>{0xFFFF, 0xFFFF});
    for (const auto& [type, number] :
         std::vector<std::pair<ModbusType, double>>{{ModbusType::uint16, -1},
                                                    {ModbusType::uint16, 65536},
                                                    {ModbusType::int16, 32768},
                                                    {ModbusType::uint32, 4294967296.0},
                                                    {ModbusType::uint32, std::nan("")},
                                                    {ModbusType::float32, 1e39},
                                                    {ModbusType::float32, std::nan("")}}) {
        CHECK_FALSE(modbus_registers_of(type, number, false));
    }
    // 2.5.1.1: 3.5 characters, at least 1.75 ms above 19200.
    CHECK(modbus_silence_s(9600) == Approx(0.00401).epsilon(0.01));
    CHECK(modbus_silence_s(115200) == 0.00175);
}

namespace {

// A device with registers, at the far end of a lockstep link.
Task<void> serve(Clock& clock, Link& link, std::vector<std::uint16_t>& registers,
                 std::vector<double>& asked_at_s) {
    std::string text;
    while (true) {
        std::byte buffer[256];
        Result<std::size_t> got = co_await link.read_some(buffer);
        if (!got) co_return;
        text.append(reinterpret_cast<const char*>(buffer), *got);
        auto byte = [&](std::size_t at) { return static_cast<unsigned char>(text[at]); };
        while (text.size() >= 8) {
            const unsigned function = byte(1);
            const unsigned address = byte(2) << 8 | byte(3);
            const unsigned count = byte(4) << 8 | byte(5);
            const std::size_t length = function == 16 ? 9u + byte(6) : 8u;
            if (text.size() < length) break;
            CHECK(with_crc(text.substr(0, length - 2)) == text.substr(0, length));
            asked_at_s.push_back(clock.now_s());
            std::string answer = text.substr(0, 2);
            if (address >= registers.size()) {
                answer[1] = static_cast<char>(function | 0x80);
                answer += '\x02';
            } else if (function == 3 || function == 4) {
                answer += static_cast<char>(2 * count);
                for (unsigned i = 0; i < count; ++i) {
                    answer += static_cast<char>(registers[address + i] >> 8);
                    answer += static_cast<char>(registers[address + i] & 0xFF);
                }
            } else {
                answer = text.substr(0, 6);
                if (function == 6) registers[address] = static_cast<std::uint16_t>(count);
                for (unsigned i = 0; function == 16 && i < count; ++i) {
                    registers[address + i] =
                        static_cast<std::uint16_t>(byte(7 + 2 * i) << 8 | byte(8 + 2 * i));
                }
            }
            text.erase(0, length);
            co_await clock.sleep_for(0.02);
            const std::string frame = with_crc(answer);
            Outcome written = co_await link.write(TestSend::right(), std::as_bytes(std::span(frame)));
            CHECK(written.ok());
        }
    }
}

}  // namespace

TEST_CASE("Modbus: pump, balance and climate sensor work by their shipped profiles") {
    asio::io_context context;
    const auto clock = make_lockstep_clock(context);
    auto [near_pump, far_pump] = make_lockstep_pair(context, "pump");
    auto [near_balance, far_balance] = make_lockstep_pair(context, "balance");
    auto [near_climate, far_climate] = make_lockstep_pair(context, "climate");
    std::vector<std::uint16_t> pump_registers(104, 7);
    // 123.45 g, stable; then the tare register.
    std::vector<std::uint16_t> balance_registers = {0, 12345, 1, 0, 0, 0, 0, 0, 0, 0, 0};
    std::vector<std::uint16_t> climate_registers = {2013, static_cast<std::uint16_t>(-150), 10098, 480};
    std::vector<double> asked_at_s;
    asio::co_spawn(context, serve(*clock, *far_pump, pump_registers, asked_at_s), asio::detached);
    asio::co_spawn(context, serve(*clock, *far_balance, balance_registers, asked_at_s), asio::detached);
    asio::co_spawn(context, serve(*clock, *far_climate, climate_registers, asked_at_s), asio::detached);
    auto pump = make_pump(shipped("generic-pump-modbus"), std::move(near_pump), *clock, context);
    auto balance = make_balance(shipped("generic-balance-modbus"), std::move(near_balance), *clock, context);
    auto climate =
        make_climate_sensor(shipped("generic-climate-modbus"), std::move(near_climate), *clock, context);
    REQUIRE((pump.ok() && balance.ok() && climate.ok()));
    bool finished = false;
    asio::co_spawn(
        context,
        [](Pump& p, Balance& b, ClimateSensor& c, std::vector<std::uint16_t>& on_pump,
           std::vector<std::uint16_t>& on_balance, bool& end) -> Task<void> {
            Outcome outcome = co_await p.set_flow(TestPermit::get(), 123.456);
            CHECK(outcome.ok());
            CHECK((on_pump[100] << 16 | on_pump[101]) == 123456);
            CHECK(on_pump[102] == 1);
            outcome = co_await p.set_drain(true);
            CHECK((outcome.ok() && on_pump[103] == 1));
            outcome = co_await p.stop();
            CHECK((outcome.ok() && on_pump[102] == 0));
            outcome = co_await p.set_flow(TestPermit::get(), 1e5 - 1);
            CHECK(outcome.ok());
            Result<WeightReading> weight = co_await b.next();
            REQUIRE(weight.ok());
            CHECK(weight->mass_g == 123.45);
            CHECK(weight->decimals == 2);
            CHECK(weight->stable);
            CHECK(weight->text == "123.45 g");
            on_balance[2] = 0;
            weight = co_await b.next();
            CHECK((weight.ok() && !weight->stable));
            on_balance[2] = 5;
            weight = co_await b.next();
            CHECK((!weight.ok() && weight.fault().code == FaultCode::overload));
            outcome = co_await b.tare();
            CHECK((outcome.ok() && on_balance[10] == 1));
            Result<ClimateReading> air = co_await c.read();
            REQUIRE(air.ok());
            CHECK(air->water_temperature_C == Approx(20.13));
            CHECK(air->air_temperature_C == Approx(-1.5));
            CHECK(air->air_pressure_hPa == Approx(1009.8));
            CHECK(air->relative_humidity_percent == Approx(48));
            end = true;
        }(**pump, **balance, **climate, pump_registers, balance_registers, finished),
        asio::detached);
    clock->run();
    CHECK(finished);
    far_pump->close();
    far_balance->close();
    far_climate->close();
    clock->run();
}

TEST_CASE("Modbus: an exception is a refusal, silence is no answer, and frames keep their distance") {
    asio::io_context context;
    const auto clock = make_lockstep_clock(context);
    auto [near, far] = make_lockstep_pair(context, "pump");
    std::vector<std::uint16_t> few_registers(50, 0);
    std::vector<double> asked_at_s;
    auto pump = make_pump(shipped("generic-pump-modbus"), std::move(near), *clock, context);
    Outcome refused = Done{};
    Outcome silent = Done{};
    asio::co_spawn(
        context, [](Pump& p, Outcome& first) -> Task<void> { first = co_await p.stop(); }(**pump, silent),
        asio::detached);
    clock->run();
    REQUIRE(!silent.ok());
    CHECK(silent.fault().code == FaultCode::no_answer);
    asio::co_spawn(context, serve(*clock, *far, few_registers, asked_at_s), asio::detached);
    clock->run();
    asked_at_s.clear();
    asio::co_spawn(
        context, [](Pump& p, Outcome& second) -> Task<void> { second = co_await p.stop(); }(**pump, refused),
        asio::detached);
    clock->run();
    REQUIRE(!refused.ok());
    CHECK(refused.fault().code == FaultCode::refused);
    CHECK(refused.fault().what.find("illegal data address") != std::string::npos);
    REQUIRE(asked_at_s.size() == 4);  // three further attempts
    for (std::size_t i = 1; i < asked_at_s.size(); ++i) {
        CHECK(asked_at_s[i] - asked_at_s[i - 1] >= 0.02 + modbus_silence_s(19200) - 1e-9);
    }
    far->close();
    clock->run();
}

TEST_CASE(
    "Modbus: a pump's own time limit is armed and fed by reading, or by writing where its profile says so") {
    asio::io_context context;
    const auto clock = make_lockstep_clock(context);
    auto [near, far] = make_lockstep_pair(context, "pump");
    std::vector<std::uint16_t> registers(110, 7);
    std::vector<double> asked_at_s;
    asio::co_spawn(context, serve(*clock, *far, registers, asked_at_s), asio::detached);
    DescriptionText text = shipped("generic-pump-modbus-timeout").text;
    bool written = false;
    SECTION("read") {}
    SECTION("written") {
        written = true;
        const std::size_t at = text.text.find("[keep_alive_read]");
        text.text.replace(at, std::string::npos,
                          "[[keep_alive]]\nregister = 105\ntype = \"uint16\"\nvalue = 4321\n");
    }
    const auto profile = parse_profile(text);
    INFO((profile ? "" : profile.fault().line()));
    REQUIRE(profile.ok());
    auto pump = make_pump(*profile, std::move(near), *clock, context);
    REQUIRE(pump.ok());
    CHECK((*pump)->own_timeout_s() == 2);
    bool finished = false;
    asio::co_spawn(
        context,
        [](Pump& p, std::vector<double>& asked, bool& end) -> Task<void> {
            Outcome outcome = co_await p.arm_own_timeout();
            CHECK(outcome.ok());
            CHECK(asked.size() == 1);
            outcome = co_await p.keep_alive();
            CHECK(outcome.ok());
            CHECK(asked.size() == 2);
            outcome = co_await p.set_flow(TestPermit::get(), 1);
            CHECK(outcome.ok());
            end = true;
        }(**pump, asked_at_s, finished),
        asio::detached);
    asio::co_spawn(
        context,
        [](Clock& c, Pump& p, std::vector<double>& asked) -> Task<void> {
            co_await c.sleep_until(0.07);  // while the flow is being set
            const std::size_t before = asked.size();
            Outcome outcome = co_await p.keep_alive();
            CHECK(outcome.ok());
            CHECK(asked.size() == before);
            CHECK(before > 2);
        }(*clock, **pump, asked_at_s),
        asio::detached);
    clock->run();
    CHECK(finished);
    CHECK(registers[104] == 20);  // tenths of a second
    CHECK(registers[105] == (written ? 4321 : 7));
    far->close();
    clock->run();
}

TEST_CASE("Modbus: who it is stands in registers, or its profile does not tell how to ask") {
    CHECK(modbus_text(std::vector<std::uint16_t>{0x5075, 0x6D70, 0x2037, 0x0041}) == "Pump 7");
    CHECK(modbus_text(std::vector<std::uint16_t>{0x4142, 0x2020}) == "AB");
    CHECK(modbus_text(std::vector<std::uint16_t>{0x4107}).empty());
    CHECK(modbus_text(std::vector<std::uint16_t>{0x0041}).empty());
    for (const bool told : {true, false}) {
        asio::io_context context;
        const auto clock = make_lockstep_clock(context);
        auto [near, far] = make_lockstep_pair(context, "balance");
        std::vector<std::uint16_t> registers(1008, 0);
        registers[1000] = 0x4232;
        std::vector<double> asked_at_s;
        asio::co_spawn(context, serve(*clock, *far, registers, asked_at_s), asio::detached);
        DescriptionText text = shipped("generic-balance-modbus").text;
        if (!told) text.text.erase(text.text.find("[identity]"), std::string("[identity]").size());
        if (!told) {
            for (const char* line : {"function = \"holding\"", "register = 1000", "count = 8"})
                text.text.replace(text.text.find(line), 1, "#");
        }
        const auto profile = parse_profile(text);
        INFO((profile ? "" : profile.fault().line()));
        REQUIRE(profile.ok());
        auto balance = make_balance(*profile, std::move(near), *clock, context);
        Result<std::string> who = std::string();
        asio::co_spawn(
            context,
            [](Balance& b, Result<std::string>& answer) -> Task<void> { answer = co_await b.identify(); }(
                                                            **balance, who),
            asio::detached);
        clock->run();
        CHECK((told ? who.ok() && *who == "B2" : !who.ok() && who.fault().code == FaultCode::inconsistent));
        far->close();
        clock->run();
    }
}

TEST_CASE("Modbus: a faulty profile is named by file, line and column") {
    auto fault_line = [](const std::string& toml) {
        const auto profile = parse_profile({"my.toml", toml});
        return profile ? std::string("good") : profile.fault().line();
    };
    const std::string head = "title = \"T\"\nfamily = \"modbus-rtu\"\nrole = \"balance\"\nunit = 1\n";
    const std::string mass = "[[read]]\nfield = \"mass_g\"\nregister = 0\ntype = \"int32\"\ndecimals = 2\n";
    CHECK(fault_line(head + mass) == "good");
    CHECK(fault_line(head).find("a balance has one [[read]]") != std::string::npos);
    CHECK(fault_line(head + mass + "scale = 0\n").starts_with("my.toml:10:9: scale is 0"));
    CHECK(fault_line(head + mass + "[status]\nregister = 500\n").find("too far apart") != std::string::npos);
    CHECK(fault_line("title = \"T\"\nfamily = \"modbus-rtu\"\nrole = \"balance\"\nunit = 248\n" + mass)
              .starts_with("my.toml:4:8: unit is 248"));
    CHECK(fault_line("title = \"T\"\nfamily = \"modbus-rtu\"\nrole = \"pump\"\nunit = 1\n")
              .find("[[set_flow]] is not given") != std::string::npos);
    const std::string pump = "title = \"T\"\nfamily = \"modbus-rtu\"\nrole = \"pump\"\nunit = 1\n";
    CHECK(fault_line(pump + "[[set_flow]]\nregister = 1\ntype = \"uint32\"\n[[stop]]\nregister = 2\ntype = "
                            "\"uint16\"\nvalue = 0\n")
              .starts_with("my.toml:7:8: two registers cannot be written with write-one"));
    CHECK(fault_line(pump + "[[set_flow]]\nregister = 1\ntype = \"uint16\"\nvalue = 3\n[[stop]]\nregister = "
                            "2\ntype = \"uint16\"\nvalue = 0\n")
              .find("takes the flow") != std::string::npos);
    const std::string timed = pump +
                              "[timing]\nown_timeout_s = 2\n[[set_flow]]\nregister = 1\ntype = "
                              "\"uint16\"\n[[stop]]\nregister = 2\ntype = \"uint16\"\nvalue = 0\n";
    const std::string arm = "[[arm]]\nregister = 3\ntype = \"uint16\"\n";
    const std::string read = "[keep_alive_read]\nregister = 3\n";
    CHECK(fault_line(timed + arm + read) == "good");
    CHECK(fault_line(timed + read).find("[[arm]] is not given") != std::string::npos);
    CHECK(fault_line(timed + arm).find("[[keep_alive]] is not given") != std::string::npos);
    CHECK(fault_line(timed + arm + "value = 5\n" + read).find("takes the time limit") != std::string::npos);
    CHECK(fault_line(timed + arm + read + "[[keep_alive]]\nregister = 3\ntype = \"uint16\"\nvalue = 1\n")
              .find("both written and read") != std::string::npos);
    CHECK(fault_line(pump + timed.substr(timed.find("[[set_flow]]")) + arm + read)
              .find("a time limit that is not given") != std::string::npos);
    CHECK(fault_line(head + mass + "[identity]\nregister = 1\ncount = 33\n").find("count is 33") !=
          std::string::npos);
}

TEST_CASE("Modbus: between two frames that stop a pump its device can take one in and confirm it") {
    DescriptionText text = shipped("generic-pump-modbus").text;
    const std::string baud = "baud = 19200";
    for (const int now : {300, 1200, 9600, 19200, 115200}) {
        CAPTURE(now);
        DescriptionText other = text;
        other.text.replace(other.text.find(baud), baud.size(), "baud = " + std::to_string(now));
        const auto profile = parse_profile(other);
        REQUIRE(profile.ok());
        const StopMessages stops = stop_messages(*profile);
        REQUIRE(stops.messages.size() == 1);
        // Eight bytes there and eight back, of eleven bits each, and a silence after both.
        CHECK(stops.pause_s > 16 * 11.0 / now + 2 * modbus_silence_s(now));
        CHECK(stops.pause_s < 0.05 + 2 * 16 * 11.0 / now);
    }
}
