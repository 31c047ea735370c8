#include "calib/base/fault.hpp"

#include <catch2/catch.hpp>
#include <set>
#include <string>

using namespace tipwright;

TEST_CASE("every fault code has a name for logs and one sentence for people") {
    std::set<std::string> names;
    std::set<std::string> sentences;
    for (int i = 0; i < fault_code_count; ++i) {
        const auto code = static_cast<FaultCode>(i);
        const std::string name(name_of(code));
        const std::string sentence(sentence_of(code));
        INFO("code " << i << " " << name);
        CHECK(name.size() >= 4);
        CHECK(name.find_first_not_of("abcdefghijklmnopqrstuvwxyz_") == std::string::npos);
        REQUIRE(sentence.size() > 20);
        CHECK((sentence.front() >= 'A' && sentence.front() <= 'Z'));
        CHECK(sentence.find('.') == sentence.size() - 1);
        CHECK(fault_code_named(name) == code);
        CHECK(names.insert(name).second);
        CHECK(sentences.insert(sentence).second);
    }
    CHECK(static_cast<int>(names.size()) == fault_code_count);
}

TEST_CASE("names of faults are those that stand in logs already") {
    CHECK(name_of(FaultCode::usage) == "usage");
    CHECK(name_of(FaultCode::pump_not_turning) == "pump_not_turning");
    CHECK(name_of(FaultCode::interrupted) == "interrupted");
    CHECK_FALSE(fault_code_named("no_such_fault").has_value());
    CHECK_FALSE(fault_code_named("").has_value());
}

TEST_CASE("a fault is one line: where, what, remedy, each only if given") {
    CHECK(Fault{FaultCode::bad_value, "mass_g is -3, must be above 0", "step.csv:7:4", "check the sign"}
              .line() == "step.csv:7:4: mass_g is -3, must be above 0; check the sign");
    CHECK(Fault{FaultCode::bad_value, "mass_g is -3", "", ""}.line() == "mass_g is -3");
    CHECK(Fault{FaultCode::counter_silent, "", "counter", ""}.line() ==
          "counter: The tip counter stopped reporting.");
}

TEST_CASE("what a file or an instrument puts into a fault cannot break the line or drive a terminal") {
    CHECK(Fault{FaultCode::syntax, "answer a\nb\r\tc", "", ""}.line() == "answer a\\nb\\r\\tc");
    CHECK(visible("\x1b[31m\x07\x7f") == "\\x1b[31m\\x07\\x7f");
    CHECK(visible(std::string_view("a\0b", 3)) == "a\\x00b");
    CHECK(visible("Gäuge 雨量 µm") == "Gäuge 雨量 µm");
    CHECK(visible("\xc2\x9b"
                  "31m") == "\\x9b31m");  // C1 control as UTF-8
    CHECK(visible("\xe2\x80\xae"
                  "gpj") == "\\u202egpj");        // right-to-left override
    CHECK(visible("\xe2\x80\xa8") == "\\u2028");  // line separator
    CHECK(visible("\u2800|\U00013430") == "\\u2800|\\u013430");
    CHECK(visible("\xff\xc0\xaf\xed\xa0\x80\xe2\x82") == "\\xff\\xc0\\xaf\\xed\\xa0\\x80\\xe2\\x82");
}

TEST_CASE("a quoted value is cut at 60 characters, not inside one") {
    CHECK(in_quotes("12,5") == "\"12,5\"");
    CHECK(in_quotes(std::string(60, 'x')) == "\"" + std::string(60, 'x') + "\"");
    CHECK(in_quotes(std::string(61, 'x')) == "\"" + std::string(60, 'x') + "...\"");
    std::string umlauts;
    for (int i = 0; i < 70; ++i) umlauts += "ä";
    CHECK(in_quotes(umlauts) == "\"" + umlauts.substr(0, 120) + "...\"");
    CHECK(in_quotes("a\nb") == "\"a\\nb\"");
}
