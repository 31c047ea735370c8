#include "report/files/xml_text.hpp"

#include <catch2/catch.hpp>

#include <map>

using tipwright::report::Apostrophe;
using tipwright::report::xml_escaped;

TEST_CASE("each character is written as XML wants it, whatever stands around it") {
    const std::map<char, std::string> replaced{{'&', "&amp;"},  {'<', "&lt;"}, {'>', "&gt;"}, {'"', "&quot;"},
                                               {'\r', "&#13;"}, {'\t', "\t"},  {'\n', "\n"}};
    for (int code = 0; code < 0x80; ++code) {
        const char c = static_cast<char>(code);
        std::string wanted = code < 0x20 ? "\xEF\xBF\xBD" : std::string(1, c);
        if (const auto found = replaced.find(c); found != replaced.end()) wanted = found->second;
        const std::string one(1, c);
        CAPTURE(code);
        CHECK(xml_escaped(one) == wanted);
        CHECK(xml_escaped("plain" + one + "text") == "plain" + wanted + "text");
        CHECK(xml_escaped(one + one + "è") == wanted + wanted + "è");
    }
    CHECK(xml_escaped("it's", Apostrophe::replaced) == "it&#39;s");
}

TEST_CASE("letters beyond ASCII stay, bytes that are none do not") {
    CHECK(xml_escaped("Prüfung — 2 µL ≤ 1") == "Prüfung — 2 µL ≤ 1");
    CHECK(xml_escaped("cut \xC3") == "cut \xEF\xBF\xBD");
    CHECK(xml_escaped("\xEF\xBF\xBE and \xEF\xBF\xBF") == "\xEF\xBF\xBD and \xEF\xBF\xBD");
    CHECK(xml_escaped("").empty());
}
