#include "bench/instruments/line_ascii/protocol.hpp"

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "bench/instruments/profile.hpp"
#include "tests/bench/shipped_profile.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using tipwright::test::shipped;
using namespace std::string_literals;

namespace {

// What a balance's parser makes of the bytes, given in these pieces.
std::vector<std::string> parsed(const std::vector<std::string>& pieces) {
    static const InstrumentProfile profile = shipped("generic-balance-print");
    std::vector<std::string> events;
    std::string bytes;
    for (const std::string& piece : pieces) {
        bytes += piece;
        while (true) {
            const LineFrame frame = next_line(std::as_bytes(std::span(bytes)));
            if (frame.kind == LineFrame::Kind::line) {
                WeightReading reading;
                switch (read_weight(profile.of<LineAsciiProfile>()->weights, frame.text, reading)) {
                    case WeightLine::reading:
                        events.push_back(reading.text + (reading.stable ? " stable" : " moving"));
                        break;
                    case WeightLine::overload:
                        events.push_back("overload");
                        break;
                    case WeightLine::none:
                        events.push_back("unread");
                        break;
                }
            } else if (frame.kind == LineFrame::Kind::too_long) {
                events.push_back("too long");
            }
            const bool more = frame.kind == LineFrame::Kind::need_more;
            bytes.erase(0, frame.consumed);
            if (more) break;
        }
    }
    return events;
}

using Events = std::vector<std::string>;

}  // namespace

TEST_CASE("line ASCII: the table of frames") {
    const std::string good = "W   12.34 g stable\r\n";
    CHECK(parsed({good}) == Events{"12.34 g stable"});
    CHECK(parsed({"W   12.35 g moving\r\n"}) == Events{"12.35 g moving"});
    CHECK(parsed({"W   -0.02 g stable\n"}) == Events{"-0.02 g stable"});
    CHECK(parsed({"W  0.0123 kg stable\r"}) == Events{"0.0123 kg stable"});
    // cut short
    CHECK(parsed({"W   12.34 g sta"}).empty());
    CHECK(parsed({"W   12.34 g sta\r\n", good}) == Events{"unread", "12.34 g stable"});
    CHECK(parsed({"2.34 g stable\r\n"}) == Events{"unread"});
    // leading garbage: without a checksum nothing tells where it ends, so that line is not believed
    CHECK(parsed({"\xff\x00\x7f"s + good + good}) == Events{"unread", "12.34 g stable"});
    CHECK(parsed({"xx" + good}) == Events{"unread"});
    // two frames in one read, one frame in two, in single bytes
    CHECK(parsed({good + "W   13.00 g moving\r\n"}) == Events{"12.34 g stable", "13.00 g moving"});
    CHECK(parsed({"W   12.3", "4 g stable\r", "\n"}) == Events{"12.34 g stable"});
    std::vector<std::string> single;
    for (char c : good + good) single.emplace_back(1, c);
    CHECK(parsed(single) == Events{"12.34 g stable", "12.34 g stable"});
    // overload is told, never a number
    CHECK(parsed({"W over\r\n"}) == Events{"overload"});
    CHECK(parsed({"W 99999.99 lb stable\r\n"}) == Events{"unread"});
    // a line without end
    CHECK(parsed({std::string(300, 'x') + "\r\n" + good}).back() == "12.34 g stable");
    CHECK(parsed({std::string(300, 'x')}) == Events{"too long"});
    CHECK(parsed({"\r\n\r\n\n\r"}).empty());
}

TEST_CASE(
    "line ASCII: every single flipped bit gives another reading only where a digit changed to a digit") {
    const std::string good = "W   12.34 g stable\r\n";
    for (std::size_t at = 0; at < good.size(); ++at) {
        for (int bit = 0; bit < 8; ++bit) {
            std::string line = good;
            line[at] = static_cast<char>(line[at] ^ (1 << bit));
            const bool digit = std::isdigit(static_cast<unsigned char>(good[at])) != 0 &&
                               std::isdigit(static_cast<unsigned char>(line[at])) != 0;
            if (digit) continue;
            for (const std::string& event : parsed({line, good})) {
                INFO(line);
                CHECK((event == "unread" || event == "12.34 g stable"));
            }
        }
    }
}

TEST_CASE("line ASCII: masses become grams and keep their decimals") {
    const InstrumentProfile profile = shipped("generic-balance-print");
    struct Row {
        const char* line;
        double mass_g;
        int decimals;
    };
    for (const Row& row : {Row{"W   12.30 g stable", 12.30, 2}, Row{"W  0.0123 kg stable", 12.3, 1},
                           Row{"W   1.234 kg stable", 1234, 0}, Row{"W    1.23 kg stable", 1230, -1},
                           Row{"W   12345 mg stable", 12.345, 3}, Row{"W  1234.5 mg stable", 1.2345, 4}}) {
        WeightReading reading;
        INFO(row.line);
        REQUIRE(read_weight(profile.of<LineAsciiProfile>()->weights, row.line, reading) ==
                WeightLine::reading);
        CHECK(reading.mass_g == row.mass_g);
        CHECK(reading.decimals == row.decimals);
    }
}

TEST_CASE("line ASCII: a climate line gives four numbers, or nothing") {
    const InstrumentProfile profile = shipped("generic-climate-ascii");
    ClimateReading reading;
    REQUIRE(read_climate(profile.of<LineAsciiProfile>()->climates,
                         "water 20.13 C air 21.40 C pressure 1009.8 hPa humidity 48.0 %", reading));
    CHECK(reading.water_temperature_C == 20.13);
    CHECK(reading.air_temperature_C == 21.40);
    CHECK(reading.air_pressure_hPa == 1009.8);
    CHECK(reading.relative_humidity_percent == 48.0);
    for (const char* bad : {"water 20.13 C air 21.40 C pressure 1009.8 hPa humidity 48.0",
                            "water 20.13 C air 21.40 C pressure 10098 hPa humidity 48.0 %",
                            "water 20.1 C air 21.40 C pressure 1009.8 hPa humidity 48.0 %",
                            "water 220.13 C air 21.40 C pressure 1009.8 hPa humidity 48.0 %",
                            "water 20.13 C air 21.40 C pressure 1009.8 hPa humidity 148.0 %",
                            "water 20.13 C air 21.40 C pressure 109.8 hPa humidity 48.0 %"}) {
        INFO(bad);
        CHECK_FALSE(read_climate(profile.of<LineAsciiProfile>()->climates, bad, reading));
    }
}

TEST_CASE("line ASCII: an acknowledgement must repeat the number that was sent") {
    const InstrumentProfile profile = shipped("generic-pump-ascii");
    const LineCommand& command = profile.of<LineAsciiProfile>()->set_flow;
    const std::vector<std::pair<std::string_view, double>> sent = {{"flow_mL_min", 12.3456}};
    CHECK(command.send->print(sent) == "FLOW 12.346");
    CHECK(is_answer(command, "OK FLOW 12.346", sent));
    CHECK(is_answer(command, "OK FLOW 12.3", sent));
    CHECK_FALSE(is_answer(command, "OK FLOW 12.344", sent));
    CHECK_FALSE(is_answer(command, "OK FLOW 12.4", sent));
    CHECK_FALSE(is_answer(command, "OK STOP", sent));
    CHECK(is_answer(profile.of<LineAsciiProfile>()->stop, "OK STOP", {}));
    CHECK(read_refusal(profile.of<LineAsciiProfile>()->refusals, "ERR flow out of range") ==
          "flow out of range");
    CHECK_FALSE(read_refusal(profile.of<LineAsciiProfile>()->refusals, "OK STOP"));
}

namespace {

std::string fault_line(const std::string& toml) {
    const Result<InstrumentProfile> profile = parse_profile({"my.toml", toml});
    return profile ? std::string("good") : profile.fault().line();
}

}  // namespace

TEST_CASE("every shipped profile is good and of the role its name says") {
    CHECK(shipped("generic-pump-ascii").role == Role::pump);
    CHECK(shipped("generic-balance-print").role == Role::balance);
    CHECK(shipped("generic-balance-polled").role == Role::balance);
    CHECK(shipped("generic-climate-ascii").role == Role::climate);
    CHECK(shipped("generic-tip-counter").role == Role::counter);
    CHECK(shipped("generic-tip-counter").serial.baud == 115200);
    CHECK(load_profile("no-such", tipwright::test::source_dir() + "/templates").fault().code ==
          FaultCode::file_missing);
    CHECK(load_profile(tipwright::test::source_dir() + "/templates/instruments/generic-pump-ascii.toml", "")
              .ok());
}

TEST_CASE("a faulty profile is named by file, line and column") {
    const std::string head = "title = \"T\"\nfamily = \"line-ascii\"\nrole = \"balance\"\n";
    CHECK(fault_line(head + "[[reading]]\npattern = \"{mass_g} g\"\n") == "good");
    CHECK(fault_line("title = \"T\"\nfamily = \"line-asci\"\nrole = \"balance\"\n")
              .starts_with("my.toml:2:10: family"));
    CHECK(fault_line("title = \"T\"\nfamily = \"tip-counter\"\nrole = \"balance\"\n")
              .starts_with("my.toml:2:10: "));
    CHECK(fault_line(head).starts_with("my.toml:1:1: the profile says not how to read a weight"));
    CHECK(fault_line(head + "[[reading]]\npattern = \"{mas} g\"\n")
              .starts_with("my.toml:5:11: pattern \"{mas} g\": there is no field {mas} here"));
    CHECK(fault_line(head + "[[reading]]\npattern = \"{mass} g\"\n")
              .starts_with("my.toml:5:11: {mass} and {unit} go together"));
    CHECK(fault_line(head + "[[reading]]\npattern = \"over {mass_g}\"\noverload = true\n")
              .starts_with("my.toml:5:11: an overload has no mass to read"));
    CHECK(fault_line(head + "[serial]\nbaud = 12\n[[reading]]\npattern = \"{mass_g} g\"\n")
              .starts_with("my.toml:5:8: serial.baud is 12"));
    CHECK(fault_line(
              head +
              "[command.tarre]\nsend = \"T\"\nanswer = [\"OK\"]\n[[reading]]\npattern = \"{mass_g} g\"\n")
              .find("did you mean tare?") != std::string::npos);
    CHECK(fault_line(head + "[command.tare]\nsend = \"T\"\n[[reading]]\npattern = \"{mass_g} g\"\n")
              .find("command.tare.answer is not given") != std::string::npos);
    const std::string pump = "title = \"T\"\nfamily = \"line-ascii\"\nrole = \"pump\"\n";
    CHECK(fault_line(pump).find("command") != std::string::npos);
    CHECK(fault_line(
              pump +
              "[command.set_flow]\nsend = \"F\"\nanswer = [\"OK\"]\n[command.stop]\nsend = \"S\"\nanswer = "
              "[\"OK\"]\n")
              .find("sends no {flow_mL_min}") != std::string::npos);
    CHECK(fault_line(pump + "[command.set_flow]\nsend = \"F {flow_mL_min}\"\nanswer = [\"OK\"]\n")
              .find("[command.stop] is not given") != std::string::npos);
    CHECK(fault_line("title = ").starts_with("my.toml:1:"));
}
