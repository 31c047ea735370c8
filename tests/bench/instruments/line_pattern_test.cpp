#include "bench/instruments/line_ascii/pattern.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>

#include "bench/instruments/decimal.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr FieldName fields[] = {{"mass", FieldKind::number},
                                {"unit", FieldKind::word},
                                {"flow_mL_min", FieldKind::number},
                                {"text", FieldKind::text}};

Pattern compiled(std::string_view notation, char decimal_sign = '.') {
    Result<Pattern> pattern = Pattern::compile(notation, fields, decimal_sign);
    INFO(notation << (pattern ? "" : pattern.fault().what));
    REQUIRE(pattern.ok());
    return *pattern;
}

std::string shown(const Pattern& pattern, std::string_view line) {
    FieldValues values;
    if (!pattern.match(line, values)) return "no";
    std::string text = "yes";
    for (std::size_t i = 0; i < pattern.fields().size(); ++i) {
        text += " " + std::string(pattern.fields()[i]) + "=" + std::string(values[i].text);
    }
    return text;
}

}  // namespace

TEST_CASE("numbers keep the decimals they were shown with") {
    struct Row {
        const char* text;
        double value;
        int decimals;
        std::size_t length;
    };
    for (const Row& row : {Row{"12.30 g", 12.30, 2, 5}, Row{"-0.05", -0.05, 2, 5}, Row{"+  7", 7, 0, 4},
                           Row{"- 12.5x", -12.5, 1, 6}, Row{".5", 0.5, 1, 2}, Row{"12.", 12, 0, 3},
                           Row{"000012.34", 12.34, 2, 9}, Row{"123456789.012345", 123456789.012345, 6, 16}}) {
        const auto number = scan_decimal(row.text);
        INFO(row.text);
        REQUIRE(number);
        CHECK(number->value == row.value);
        CHECK(number->decimals == row.decimals);
        CHECK(number->length == row.length);
    }
    // As the C library reads it, which is correctly rounded (glibc manual, "Parsing of Floats").
    for (int decimals = 1; decimals <= 15; ++decimals) {
        const std::string text = "0." + std::string(static_cast<std::size_t>(decimals - 1), '0') + "7";
        CAPTURE(text);
        REQUIRE(scan_decimal(text));
        CHECK(scan_decimal(text)->value == std::strtod(text.c_str(), nullptr));
        CHECK(scan_decimal(text)->decimals == decimals);
    }
    for (const char* bad : {"", "-", ".", "+.", "x1", "1234567890123456", "0.1234567890123456"}) {
        INFO(bad);
        CHECK_FALSE(scan_decimal(bad));
    }
    CHECK(scan_decimal("12,5", ',')->value == 12.5);
    CHECK(scan_decimal("12,5")->value == 12);
    CHECK(decimal_text(-0.0004, 3) == "0.000");
    CHECK(decimal_text(12.3456, 3) == "12.346");
}

TEST_CASE("a pattern is literal text, flexible blanks and fields") {
    const Pattern pattern = compiled("W {mass} {unit} stable");
    CHECK(shown(pattern, "W   12.34 g stable") == "yes mass=12.34 unit=g");
    CHECK(shown(pattern, "  W -12.34   kg\tstable  ") == "yes mass=-12.34 unit=kg");
    for (const char* bad : {"", "W", "W  g stable", "W 12.34 g moving", "W 12.34 g stable x",
                            "w 12.34 g stable", "W12.34 g stable", "W 12.34g stable", "W 12.3.4 g stable",
                            "xW 12.34 g stable", "W 12.34 g\x80 stable", "W 1e3 g stable"}) {
        INFO(bad);
        CHECK(shown(pattern, bad) == "no");
    }
    CHECK(shown(compiled("{mass}{{g}}"), "12.5{g}") == "yes mass=12.5");
    CHECK(shown(compiled("ST,{_},{mass} g"), "ST,GS,+0012.30 g") == "yes mass=+0012.30");
    CHECK(shown(compiled("ERR {text}"), "ERR flow out of range ") == "yes text=flow out of range");
    CHECK(shown(compiled("ERR {text}"), "ERR ") == "no");
    CHECK(shown(compiled("{mass} {unit}", ','), "12,5 g") == "yes mass=12,5 unit=g");
    CHECK(shown(compiled("{mass} {unit}", ','), "12.5 g") == "no");
}

TEST_CASE("with a width no byte can be lost or doubled in a number unseen") {
    const Pattern pattern = compiled("W {mass:7} g stable");
    const std::string good = "W   12.34 g stable";
    CHECK(shown(pattern, good) == "yes mass=12.34");
    CHECK(shown(pattern, "W 1234.56 g stable") == "yes mass=1234.56");
    CHECK(shown(pattern, "W -1234.56 g stable") == "yes mass=-1234.56");
    CHECK(shown(pattern, "W  012.34 g stable") == "no");
    CHECK(shown(pattern, "W    0.34 g stable") == "yes mass=0.34");
    for (std::size_t at = 0; at < good.size(); ++at) {
        std::string lost = good;
        lost.erase(at, 1);
        INFO(lost);
        CHECK(shown(pattern, lost) == "no");
        std::string doubled = good;
        doubled.insert(at, 1, good[at]);
        INFO(doubled);
        // A blank more behind the number or the unit changes nothing.
        const bool harmless = doubled == "W   12.34  g stable" || doubled == "W   12.34 g  stable";
        CHECK(shown(pattern, doubled) == (harmless ? "yes mass=12.34" : "no"));
    }
    const Pattern decimals = compiled("{mass:.2} g");
    CHECK(shown(decimals, "12.34 g") == "yes mass=12.34");
    CHECK(shown(decimals, "12.3 g") == "no");
    CHECK(shown(decimals, "12.345 g") == "no");
}

TEST_CASE("a pattern prints what is to be sent") {
    std::vector<std::pair<std::string_view, double>> values = {{"flow_mL_min", 12.3456}};
    CHECK(compiled("FLOW {flow_mL_min:.3}").print(values) == "FLOW 12.346");
    CHECK(compiled("F{flow_mL_min:08.2};").print(values) == "F00012.35;");
    CHECK(compiled("F {flow_mL_min:8.1}").print(values) == "F     12.3");
    CHECK(compiled("F {flow_mL_min:.1}", ',').print(values) == "F 12,3");
    CHECK(compiled("STOP").print({}) == "STOP");
    values[0].second = -3.5;
    CHECK(compiled("F{flow_mL_min:06.1}").print(values) == "F-003.5");
}

TEST_CASE("patterns that cannot be meant are refused with what is wrong") {
    auto what = [](std::string_view notation) {
        const Result<Pattern> pattern = Pattern::compile(notation, fields);
        return pattern ? std::string("good") : pattern.fault().what;
    };
    CHECK(what("") == "the pattern is empty");
    CHECK(what("   ") == "the pattern is empty");
    CHECK(what("W {mass") == "a { without its }");
    CHECK(what("W mass}") == "a } without its {");
    CHECK(what("W {weight} g") == "there is no field {weight} here");
    CHECK(what("W {mass:x}") == "the format in {mass:x} is not understood");
    CHECK(what("W {mass:}") == "the format in {mass:} is not understood");
    CHECK(what("W {mass:99.2}") == "the format in {mass:99.2} is not understood");
    CHECK(what("W {unit:3}") == "the format in {unit:3} is not understood");
    CHECK(what("{mass} {mass}") == "the field {mass} stands twice");
    CHECK(what("{mass}{unit}") == "two fields with nothing between them");
    CHECK(what("{text} {mass}") == "a field for the rest of the line must stand last");
    CHECK(what("W\x01") == "the pattern has a character that is not printable ASCII");
}
