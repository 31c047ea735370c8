// SCPI against IEEE 488.2-1992, 8.7.2 (NR1), 8.7.3 (NR2), 8.7.4 (NR3) and SCPI-1999 volume 1, 7.2.1
// (infinity, not a number), 21.8 (the error queue). Number formats from memory of the published grammar.
#include "bench/instruments/scpi/protocol.hpp"

#include <cstdlib>
#include <functional>
#include <random>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/make.hpp"
#include "tests/bench/scripted_instrument.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/test_permit.hpp"
#include "tests/support/test_send.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using tipwright::test::shown;
namespace asio = boost::asio;

TEST_CASE("SCPI: numbers NR1, NR2, NR3, and what means no number") {
    struct Row {
        const char* text;
        double value;
        int decimals;
    };
    for (const Row& row :
         {Row{"12", 12, 0}, Row{"+12", 12, 0}, Row{"-0", 0, 0}, Row{"+12.30", 12.30, 2}, Row{"-.5", -0.5, 1},
          Row{"12.", 12, 0}, Row{"+1.2300E+01", 12.3, 3}, Row{"-1.5E-03", -0.0015, 4}, Row{"1.25e2", 125, 0},
          Row{"1E3", 1000, -3}, Row{"  +4.0E+00 ", 4, 1}, Row{"0012.5", 12.5, 1}}) {
        const auto number = read_scpi_number(row.text);
        INFO(row.text);
        REQUIRE(number);
        CHECK(number->kind == ScpiNumber::Kind::value);
        CHECK(number->value == row.value);
        CHECK(number->decimals == row.decimals);
    }
    CHECK(read_scpi_number("9.9E37")->kind == ScpiNumber::Kind::infinite);
    CHECK(read_scpi_number("+9.90000E+37")->kind == ScpiNumber::Kind::infinite);
    CHECK(read_scpi_number("-9.9E37")->kind == ScpiNumber::Kind::infinite);
    CHECK(read_scpi_number("9.91E37")->kind == ScpiNumber::Kind::not_a_number);
    for (const char* bad : {"", "+", ".", "E5", "1E", "1E+", "1.2.3", "1,2", "12 g", "nan", "inf", "0x10",
                            "+-1", "1E99999", "1e400", "\"12\""}) {
        INFO(bad);
        CHECK_FALSE(read_scpi_number(bad));
    }
}

TEST_CASE("SCPI: a number ends where its element ends, whatever stands behind it") {
    const std::string line = "12345678901234567890999,7";
    const auto number = read_scpi_number(std::string_view(line).substr(0, 20));
    REQUIRE(number);
    CHECK(number->value == 12345678901234567890.0);
}

// The C library's strtod is correctly rounded (glibc manual, "Errors in Math Functions" and parsing of
// floats).
TEST_CASE("SCPI: a number is the double nearest to what was shown, whatever its length") {
    std::mt19937_64 dice(4711);
    for (int i = 0; i < 20000; ++i) {
        std::string text = dice() % 2 == 0 ? "-" : "";
        const int digits = 1 + static_cast<int>(dice() % 20);
        const int point = static_cast<int>(dice() % 22);
        for (int k = 0; k < digits; ++k) {
            if (k == point) text += '.';
            text += static_cast<char>('0' + dice() % 10);
        }
        if (dice() % 2 == 0) text += "E" + std::to_string(static_cast<int>(dice() % 60) - 30);
        const auto number = read_scpi_number(text);
        INFO(text);
        REQUIRE(number);
        REQUIRE(number->value == std::strtod(text.c_str(), nullptr));
    }
}

TEST_CASE("SCPI: elements of a response, and the error queue") {
    CHECK(split_scpi("+1.5,-2, \"a,b\",'c,d',") == ScpiElements{"+1.5", "-2", "\"a,b\"", "'c,d'", ""});
    CHECK(split_scpi("12") == ScpiElements{"12"});
    CHECK(split_scpi("") == ScpiElements{""});
    CHECK(split_scpi("1,2,3,4,5,6,7,8,9,10").size() == 10);
    CHECK(split_scpi("\"never ends, at all") == ScpiElements{"\"never ends, at all"});
    CHECK(read_scpi_error("0,\"No error\"")->code == 0);
    CHECK(read_scpi_error("+0,\"No error\"")->text == "No error");
    CHECK(read_scpi_error("-222,\"Data out of range;flow\"")->code == -222);
    CHECK(read_scpi_error("-222,\"Data out of range, flow\"")->text == "Data out of range, flow");
    for (const char* bad : {"", "0", "x,\"No error\"", "0,No error", "0,\"", "1.5,\"a\""}) {
        INFO(bad);
        CHECK_FALSE(read_scpi_error(bad));
    }
}

namespace {

class Device {
public:
    explicit Device(const std::string& profile) {
        auto loaded = load_profile(profile, tipwright::test::source_dir() + "/templates");
        INFO((loaded ? "" : loaded.fault().line()));
        REQUIRE(loaded.ok());
        profile_ = *loaded;
    }
    ~Device() {
        far->close();
        clock->run();
    }
    std::unique_ptr<Link> near_link() {
        auto [near, other] = make_lockstep_pair(context, "lockstep");
        far = std::move(other);
        return std::move(near);
    }
    // Answers to lines; an empty answer is silence.
    void answer_with(std::function<std::string(const std::string&)> answer) {
        asio::co_spawn(context, serve(*clock, *far, heard, std::move(answer)), asio::detached);
    }
    void run(Task<void> task) {
        asio::co_spawn(context, std::move(task), asio::detached);
        clock->run();
    }
    const InstrumentProfile& profile() const { return profile_; }

    asio::io_context context;
    std::unique_ptr<Clock> clock = make_lockstep_clock(context);
    std::unique_ptr<Link> far;
    std::vector<std::string> heard;

private:
    static Task<void> serve(Clock& clock, Link& link, std::vector<std::string>& lines,
                            std::function<std::string(const std::string&)> answer) {
        std::string text;
        while (true) {
            std::byte buffer[256];
            Result<std::size_t> got = co_await link.read_some(buffer);
            if (!got) co_return;
            text.append(reinterpret_cast<const char*>(buffer), *got);
            for (std::size_t end; (end = text.find('\n')) != std::string::npos; text.erase(0, end + 1)) {
                lines.push_back(text.substr(0, end));
                const std::string reply = answer(lines.back());
                co_await clock.sleep_for(0.01);
                Outcome written = co_await link.write(TestSend::right(), std::as_bytes(std::span(reply)));
                if (!written) co_return;
            }
        }
    }

    InstrumentProfile profile_;
};

std::string digits(const Result<WeightReading>& reading) {
    if (!reading) return std::string(name_of(reading.fault().code));
    return reading->text + (reading->stable ? " stable" : " moving") + " " + std::to_string(reading->mass_g) +
           " " + std::to_string(reading->decimals);
}

}  // namespace

TEST_CASE("SCPI: a pump's command is done when *OPC? says so and the error queue is empty") {
    Device device("generic-pump-scpi");
    auto pump = make_pump(device.profile(), device.near_link(), *device.clock, device.context);
    REQUIRE(pump.ok());
    std::string error = "0,\"No error\"\n";
    device.answer_with([&](const std::string& line) -> std::string {
        if (line == "SYST:ERR?") return error;
        return line.ends_with(";*OPC?") ? "1\r\n" : "";
    });
    std::vector<std::string> seen;
    device.run([](Pump& p, std::string& queue, std::vector<std::string>& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(TestPermit::get(), 12.3456);
        log.push_back(shown(outcome));
        queue = "-222,\"Data out of range\"\n";
        outcome = co_await p.set_flow(TestPermit::get(), 500);
        log.push_back(shown(outcome));
        queue = "what?\n";
        outcome = co_await p.stop();
        log.push_back(shown(outcome));
    }(**pump, error, seen));
    CHECK(seen == std::vector<std::string>{"done", "refused", "garbled_answer"});
    CHECK(device.heard[0] == "SOUR:FLOW 12.346;:OUTP ON;*OPC?");
    CHECK(device.heard[1] == "SYST:ERR?");
    CHECK(device.heard[4] == "OUTP OFF;*OPC?");
}

TEST_CASE(
    "SCPI: a pump's own time limit is armed, and *OPC? is the keep-alive unless its profile has another") {
    Device device("generic-pump-scpi-timeout");
    DescriptionText text = device.profile().text;
    bool of_its_own = false;
    SECTION("*OPC?") {}
    SECTION("a command") {
        of_its_own = true;
        text.text += "keep_alive = \"OUTP:TIM:REST\"\n";
    }
    const auto profile = parse_profile(text);
    INFO((profile ? "" : profile.fault().line()));
    REQUIRE(profile.ok());
    auto pump = make_pump(*profile, device.near_link(), *device.clock, device.context);
    REQUIRE(pump.ok());
    CHECK((*pump)->own_timeout_s() == 2);
    device.answer_with([](const std::string& line) -> std::string {
        if (line == "SYST:ERR?") return "0,\"No error\"\n";
        return line.ends_with("*OPC?") ? "1\n" : "";
    });
    std::vector<std::string> seen;
    device.run([](Pump& p, std::vector<std::string>& log) -> Task<void> {
        Outcome outcome = co_await p.arm_own_timeout();
        log.push_back(shown(outcome));
        outcome = co_await p.keep_alive();
        log.push_back(shown(outcome));
    }(**pump, seen));
    CHECK(seen == std::vector<std::string>{"done", "done"});
    REQUIRE(device.heard.size() >= 3);
    CHECK(device.heard[0] == "OUTP:TIM 2.0;*OPC?");
    CHECK(device.heard[2] == (of_its_own ? "OUTP:TIM:REST;*OPC?" : "*OPC?"));
}

TEST_CASE("SCPI: a balance's mass keeps its digits, overload and rubbish are never a number") {
    Device device("generic-balance-scpi");
    auto balance = make_balance(device.profile(), device.near_link(), *device.clock, device.context);
    REQUIRE(balance.ok());
    std::vector<std::string> answers = {"+1.23400E+01,1\n", "12.34,+0\n", "9.9E37,0\n", "12.34,4\n",
                                        "9.91E37,1\n",      "12.34,-1\n", "1.2.3,1\n",  "1E30,1\n"};
    std::size_t next = 0;
    device.answer_with(
        [&](const std::string&) { return next < answers.size() ? answers[next++] : "12.34\n"; });
    std::vector<std::string> seen;
    device.run([](Balance& b, std::vector<std::string>& log) -> Task<void> {
        for (int i = 0; i < 9; ++i) {
            Result<WeightReading> reading = co_await b.next();
            log.push_back(digits(reading));
        }
    }(**balance, seen));
    CHECK(seen == std::vector<std::string>{"12.3400 g stable 12.340000 4", "12.34 g moving 12.340000 2",
                                           "overload", "overload", "garbled_answer", "garbled_answer",
                                           "garbled_answer", "garbled_answer", "garbled_answer"});
}

TEST_CASE("SCPI: a climate sensor's four values") {
    Device device("generic-climate-scpi");
    auto climate = make_climate_sensor(device.profile(), device.near_link(), *device.clock, device.context);
    REQUIRE(climate.ok());
    int count = 0;
    device.answer_with([&](const std::string& line) -> std::string {
        CHECK(line == "READ?");
        return ++count == 1 ? "+2.0130E+01,+2.1400E+01,+1.00980E+03,+4.80E+01\n"
                            : "+2.0130E+01,9.91E37,+1.00980E+03,+4.80E+01\n";
    });
    bool finished = false;
    device.run([](ClimateSensor& c, bool& end) -> Task<void> {
        Result<ClimateReading> reading = co_await c.read();
        REQUIRE(reading.ok());
        CHECK(reading->water_temperature_C == 20.13);
        CHECK(reading->air_temperature_C == 21.4);
        CHECK(reading->air_pressure_hPa == 1009.8);
        CHECK(reading->relative_humidity_percent == 48);
        reading = co_await c.read();
        CHECK((!reading.ok() && reading.fault().code == FaultCode::garbled_answer));
        end = true;
    }(**climate, finished));
    CHECK(finished);
}

TEST_CASE("SCPI: a faulty profile is named by file, line and column") {
    auto fault_line = [](const std::string& toml) {
        const auto profile = parse_profile({"my.toml", toml});
        return profile ? std::string("good") : profile.fault().line();
    };
    const std::string head =
        "title = \"T\"\nfamily = \"scpi\"\nrole = \"balance\"\n[command]\nread = \"READ?\"\n";
    CHECK(fault_line(head + "[response]\nvalues = [\"mass_g\"]\n") == "good");
    CHECK(fault_line(head + "[response]\nvalues = [\"mass\"]\n")
              .starts_with("my.toml:7:10: \"mass\" is not a quantity"));
    CHECK(fault_line(head + "[response]\nvalues = [\"_\"]\n").find("a balance gives one mass") !=
          std::string::npos);
    CHECK(fault_line(head + "[response]\nvalues = [\"mass_g\"]\nstable_bits = 1\n")
              .find("no value is the status") != std::string::npos);
    CHECK(fault_line("title = \"T\"\nfamily = \"scpi\"\nrole = \"pump\"\n[command]\nset_flow = \"F 1\"\nstop "
                     "= \"S\"\n")
              .starts_with("my.toml:5:12: the command sends no {flow_mL_min}"));
    const std::string pump = "title = \"T\"\nfamily = \"scpi\"\nrole = \"pump\"\n";
    const std::string timed = pump + "[timing]\nown_timeout_s = 2\n";
    const std::string commands = "[command]\nset_flow = \"F {flow_mL_min:.1}\"\nstop = \"S\"\n";
    CHECK(fault_line(timed + commands + "arm = \"T {timeout_s:.1}\"\n") == "good");
    CHECK(fault_line(timed + commands).find("arm is not given") != std::string::npos);
    CHECK(fault_line(timed + commands + "arm = \"T 2\"\n")
              .starts_with("my.toml:9:7: the command sends no {timeout_s}"));
    CHECK(fault_line(pump + commands + "arm = \"T {timeout_s:.1}\"\n")
              .starts_with("my.toml:7:7: it arms a time limit that is not given"));
    CHECK(fault_line("title = \"T\"\nfamily = \"scpi\"\nrole = \"counter\"\n")
              .starts_with("my.toml:2:10: no instrument of this family is a counter"));
}

TEST_CASE("SCPI: another pump on the link of a known one is told to stop, and nothing else ever after") {
    Device device("generic-pump-scpi-timeout");
    auto pump = make_pump(device.profile(), device.near_link(), *device.clock, device.context);
    REQUIRE(pump.ok());
    std::string serial = "1";
    device.answer_with([&](const std::string& line) -> std::string {
        if (line == "*IDN?") return "MAKER,PUMP," + serial + ",0\n";
        if (line == "SYST:ERR?") return "0,\"No error\"\n";
        return "1\n";
    });
    std::vector<std::string> seen;
    std::size_t heard_before = 0;
    device.run([](Device& its, Pump& p, std::string& of, std::size_t& before,
                  std::vector<std::string>& log) -> Task<void> {
        log.push_back((co_await p.identify()).ok() ? "known" : "unknown");
        of = "2";
        log.push_back(shown(co_await p.check_identity()));
        before = its.heard.size();
        log.push_back(shown(co_await p.keep_alive()));
        log.push_back(shown(co_await p.set_flow(TestPermit::get(), 10)));
        log.push_back(shown(co_await p.stop()));
    }(device, **pump, serial, heard_before, seen));
    CHECK(seen == std::vector<std::string>{"known", "link_lost", "link_lost", "link_lost", "done"});
    REQUIRE(device.heard.size() == heard_before + 2);
    CHECK(device.heard[heard_before] == "OUTP OFF;*OPC?");
    CHECK(device.heard[heard_before + 1] == "SYST:ERR?");
}
