// What goes through the desk: who may what, what is asked of it, and what is noted of that.
#include <catch2/catch.hpp>
#include <set>

#include "bench/page/views/field_screen.hpp"
#include "bench/page/views/forms.hpp"
#include "tests/page/hostile_desk.hpp"

using namespace tipwright;
using namespace tipwright::page;
using namespace tipwright::page::samples;

TEST_CASE("nothing is done for somebody who is not logged in", "[page]") {
    Room room;
    for (const char* path :
         {"/gauge-on/start", "/certificates/draft", "/certificates/draft/7/check",
          "/certificates/draft/7/issue", "/certificates/draft/7/discard", "/recover", "/adjust/turned"}) {
        const Response response = room.ask("POST", path, {{"serial", "1"}, {"seal", "x"}});
        CHECK(response.status == 303);
        CHECK(header(response, "Location").starts_with("/log-in"));
    }
    CHECK(room.desk.commanded.empty());
    CHECK(room.ask("POST", "/certificates/draft/7/check", {}, signatory).status == 303);
    CHECK(room.ask("POST", "/certificates/draft/7/issue", {{"seal", "secret"}}, signatory).status == 303);
    CHECK(room.ask("POST", "/gauge-on/start", {{"serial", " 4711 "}}, signatory).status == 303);
    for (const char* side : {"B", "--force"})
        CHECK(
            room.ask("POST", "/gauge-on/start", {{"serial", "4712"}, {"side_up", side}}, signatory).status ==
            303);
    const Fields close{{"run", "4711/today"}, {"what", "close"}};
    CHECK(header(room.ask("POST", "/recover", close, signatory), "Location") == "/run/4711/today");
    CHECK(room.ask("POST", "/recover", {{"run", "4711/today"}, {"what", "x"}}, signatory).status == 404);
    const Fields turns{{"serial", "4711"}, {"turns_a", "-0,25"}, {"turns_b", ""}};
    CHECK(header(room.ask("POST", "/adjust/turned", turns, signatory), "Location") ==
          "/gauge-on?state=left&serial=4711");
    CHECK(room.ask("POST", "/adjust/turned", {{"serial", "4711"}, {"turns_a", "a bit"}}, signatory).status ==
          400);
    CHECK(room.ask("POST", "/adjust/turned", {{"serial", "4711"}}, signatory).status == 303);
    CHECK(room.ask("POST", "/certificates/draft/7/burn", {}, signatory).status == 404);
    CHECK(room.ask("POST", "/certificates/draft/x/check", {}, signatory).status == 404);
    CHECK(room.desk.commanded == std::vector<std::string>{"check A. Signatory", "issue secret", "start 4711",
                                                          "start 4712B", "start 4712", "close 4711/today",
                                                          "turned 4711 -0.250000 0.000000"});
}

TEST_CASE("every command is logged with person, device and what was asked, before it is done", "[page]") {
    Room room;
    room.ask("POST", "/gauge-on/start",
             {{"serial", "4711"}, {"bench", "b"}, {"plan", "p"}, {"token", "secret"}, {"seal", "secret"}},
             signatory);
    REQUIRE(room.desk.notes.size() == 1);
    const report::PageCommand started = room.desk.notes.front();
    CHECK(started.person == "A. Signatory");
    CHECK(started.device == "127.0.0.1");
    CHECK(started.command == "/gauge-on/start");
    CHECK(started.details == std::vector<std::pair<std::string, std::string>>{
                                 {"serial", "4711"}, {"bench", "b"}, {"plan", "p"}});
    room.ask("POST", "/certificates/draft/7/check", {}, signatory);
    room.ask("POST", "/log-in", {{"person", "C. Checker"}, {"passphrase", "wrong"}});
    room.ask("POST", "/log-in", {{"person", "C. Checker"}, {"passphrase", "right"}});
    room.ask("POST", "/log-out", {}, signatory);
    room.ask("POST", "/certificates/issued/B1/replace", {{"reason", "why"}}, signatory);
    REQUIRE(room.desk.notes.size() == 6);
    CHECK(room.desk.notes[2].person.empty());
    CHECK(room.desk.notes[3].person == "C. Checker");
    CHECK(room.desk.notes[5].details.front().second == "why");
    for (const report::PageCommand& one : room.desk.notes)
        for (const auto& [name, value] : one.details) CHECK(value != "secret");
    CHECK(room.desk.commanded.back() == "replace B1");
    // What cannot be logged is not done.
    room.desk.commanded.clear();
    room.desk.log_lost = Fault{FaultCode::disk_full, "no room", "", ""};
    CHECK(room.ask("POST", "/gauge-on/start", {{"serial", "4711"}}, signatory).status == 409);
    CHECK(room.ask("POST", "/log-in", {{"person", "C. Checker"}, {"passphrase", "right"}}).status == 403);
    CHECK(room.desk.commanded.empty());
}

TEST_CASE("what the numbers given before say is told when a certificate is issued", "[page]") {
    Room room;
    room.desk.warnings = {"an older backup came back"};
    const Response told = room.ask("POST", "/certificates/draft/7/issue", {{"seal", "x"}}, signatory);
    CHECK(told.status == 200);
    CHECK(told.body.find("an older backup came back") != std::string::npos);
    CHECK(room.ask("GET", "/certificates/issued/B1/pack.zip").type == "application/zip");
}

TEST_CASE("a field check is read as it is typed, evaluated once, and kept once", "[page]") {
    Room room;
    const Fields typed{{"serial", " 4711 "}, {"tips", "40"},   {"amount", "200,5"},
                       {"limit", "5"},       {"sheet", "one"}, {"on", "2031-05-04"}};
    CHECK(room.ask("POST", "/field-check", typed).status == 303);  // nobody is logged in
    CHECK(room.desk.commanded.empty());
    const Response first = room.ask("POST", "/field-check", typed, signatory);
    CHECK(first.status == 200);
    CHECK(first.body.find("−3.0 ± 1.2") != std::string::npos);
    CHECK(first.body.find("WITHIN") != std::string::npos);
    CHECK(first.body.find("(En = 1.7)") != std::string::npos);
    CHECK(first.body.find("<script>alert") == std::string::npos);
    // Sent again, for the answer was lost: the same answer, and nothing more is kept.
    CHECK(room.ask("POST", "/field-check", typed, signatory).body.find("WITHIN") != std::string::npos);
    CHECK(room.desk.commanded == std::vector<std::string>{"field check 4711"});
    for (const char* bad : {"", "0", "-4", "4.5", "four", "1e99", "nan"}) {
        Fields wrong = typed;
        wrong["sheet"] = "two";
        wrong["tips"] = bad;
        const Response again = room.ask("POST", "/field-check", wrong, signatory);
        CHECK(again.status == 400);
        CHECK(again.body.find("200,5") != std::string::npos);  // what was typed is not lost
    }
    Fields refused = typed;
    refused["sheet"] = "three";
    refused["tips"] = "13";
    CHECK(room.ask("POST", "/field-check", refused, signatory).status == 409);
    CHECK(room.ask("POST", "/field-check", refused, signatory).status == 409);
    CHECK(room.desk.commanded.size() == 3);
    std::string wrong;
    Fields water = typed;
    water["water"] = "warm";
    CHECK_FALSE(field_check_of(water, wrong));
    CHECK(wrong == "field.water");
}

TEST_CASE("a number is read as it is typed in four languages", "[page]") {
    CHECK(typed_number("2.5") == 2.5);
    CHECK(typed_number("2,5") == 2.5);
    CHECK(typed_number("+0,25") == 0.25);
    CHECK(typed_number("-3") == -3);
    for (const char* none : {"", "a bit", "1,2,3", "1.5 mL", "+-1", "inf", "nan", "1e999"}) {
        INFO(none);
        CHECK_FALSE(typed_number(none));
    }
}
