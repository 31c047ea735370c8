// What the desk's screens say, and that nothing from outside becomes markup.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "tests/page/hostile_desk.hpp"

using namespace tipwright;
using namespace tipwright::page;
using namespace tipwright::page::samples;

TEST_CASE("what a desk says stays text, on every screen, in every language", "[page]") {
    Room room;
    for (std::size_t language = 0; language < languages().size(); ++language)
        for (const char* target : {"/log-in", "/gauge-on", "/gauge-on?serial=1", "/certificates",
                                   "/certificates/draft/7", "/adjust?run=x&per_turn=0.3&per_turn_u=0.03",
                                   "/certificates/issued/B1", "/years", "/years?instrument=1&from=a&to=b",
                                   "/years/gauge?serial=1", "/field-check?serial=<script>&tips=x"})
            for (const auto& actor :
                 {std::optional<report::Actor>{}, std::optional<report::Actor>{signatory}}) {
                const Response response = room.ask("GET", target, {}, actor, language);
                INFO(target);
                CHECK(response.status == 200);
                CHECK(response.body.find("<script>") == std::string::npos);
                CHECK(response.body.find("<img") == std::string::npos);
                CHECK(response.body.find("onerror=alert(1)>") == std::string::npos);
                CHECK(response.body.find("style=") == std::string::npos);
            }
}

TEST_CASE("a screw is named where somebody knows which side is which, and turned the way its kind says",
          "[page]") {
    Room room;
    auto seen = *room.desk.adjust({});
    seen.advice.remarks.clear();
    seen.marks = {"at the terminal block", ""};
    seen.clockwise_is_more = true;
    const auto shown = [&](std::size_t language = 0) {
        return adjust_screen({}, languages()[language], {}, seen, "").str();
    };
    const auto says = [&](const char* text) { return shown().find(text) != std::string::npos; };
    CHECK(says("Stop screw A (at the terminal block)"));
    CHECK(says("Turn CLOCKWISE 0.25 turns"));
    CHECK(says("change 0.100"));
    CHECK_FALSE(says("is not known"));
    // Fewer mL by a turn clockwise: the same turns are the other way. The first compartment must hold more.
    seen.clockwise_is_more = false;
    CHECK(shown().find("Turn ANTICLOCKWISE 0.25") < shown().find("Turn CLOCKWISE 0.25"));
    seen.clockwise_is_more.reset();
    CHECK(says("Turn 0.25 turns (± 0.10) so that it holds MORE"));
    CHECK_FALSE(says("CLOCKWISE"));
    // Nobody knows: then no screw has a letter.
    seen.sides_known = false;
    seen.advice.compartments[1].present_mL.value = 4.9;
    CHECK(says("Which compartment is which is not known"));
    CHECK(shown().find("of the LARGER compartment") < shown().find("of the SMALLER compartment"));
    CHECK_FALSE(says("Stop screw A"));
    for (std::size_t k = 1; k < languages().size(); ++k)
        CHECK(shown(k).find(languages()[k].text("adjust.side_not_known").substr(0, 20)) != std::string::npos);
    // To leave a screw as it is has no uncertainty.
    seen.advice.compartments[0].change_mL = {0, 0};
    seen.advice.compartments[0].significant = false;
    CHECK(says("Holds 5.000 ± 0.020 mL<"));
}

TEST_CASE("what is to be known of an adjustment is told in every language", "[page]") {
    Room room;
    for (const char* id : calib::adjustment_remark_ids) {
        auto seen = *room.desk.adjust({});
        seen.advice.remarks = {{id,
                                {{"rates", {73, 110}, 0},
                                 {"now", {1.25}, 2},
                                 {"after", {2.5}, 2},
                                 {"spread", {10.4}, 1},
                                 {"steps", {2, 4}, 0}},
                                "in English"}};
        std::set<std::string> told;
        for (const PageWords& words : languages()) {
            INFO(id << " in " << words.language());
            const std::string page = adjust_screen({}, words, {}, seen, "").str();
            CHECK(page.find("in English") == std::string::npos);
            CHECK(page.find('{') == std::string::npos);
            told.insert(words.text("adjust_remark." + std::string(id)));
        }
        CHECK(told.size() == languages().size());
    }
}

TEST_CASE("a check gauge out of control is told before a run, among certificates and before an issue",
          "[page]") {
    Room room;
    const char* screens[] = {"/gauge-on", "/certificates", "/certificates/draft/7"};
    const auto told = [&](std::size_t language, const char* screen) {
        return room.ask("GET", screen, {}, signatory, language).body;
    };
    for (const auto& seen : {std::optional<CheckGaugeSeen>{},
                             std::optional<CheckGaugeSeen>{{"CHECK-1", "in_control", "", {}}}}) {
        room.desk.control = seen;
        for (const char* screen : screens) CHECK(told(0, screen).find("CHECK-1") == std::string::npos);
        CHECK(told(0, "/certificates/draft/7").find("name=\"seal\"") != std::string::npos);
    }
    for (const char* standing : {"alarm", "answered", "long_ago", "not_known"}) {
        room.desk.control = CheckGaugeSeen{"CHECK-1", standing, "2031-05-04",
                                           Fault{FaultCode::too_few_points, hostile, hostile, hostile}};
        std::set<std::string> sentences;
        for (std::size_t k = 0; k < languages().size(); ++k)
            for (const char* screen : screens) {
                INFO(standing << " on " << screen << " in " << languages()[k].language());
                const std::string page = told(k, screen);
                const std::string pattern = languages()[k].text("check_gauge." + std::string(standing));
                sentences.insert(pattern);
                CHECK(page.find("CHECK-1") != std::string::npos);
                CHECK(page.find(pattern.substr(0, pattern.find('{'))) != std::string::npos);
                CHECK((std::string(standing) == "not_known" || page.find("2031-05-04") != std::string::npos));
                CHECK(page.find("<script>") == std::string::npos);
                CHECK(page.find("name=\"seal\"") == std::string::npos);
            }
        CHECK(sentences.size() == languages().size());
    }
}

TEST_CASE("nobody is offered a step of a certificate that is another person's", "[page]") {
    report::Certificate draft;
    draft.id = 7;
    draft.drafted_by = "A. Signatory";
    draft.state = report::CertificateState::draft;
    Visitor visitor;
    visitor.desk = true;
    Permissions may{true, true, true};
    const auto offers = [&](const char* command) {
        const std::string page = certificate_screen(visitor, languages()[0], draft, {}, may).str();
        return page.find("/certificates/draft/7/" + std::string(command) + "\"") != std::string::npos;
    };
    visitor.person = "A. Signatory";
    CHECK_FALSE(offers("check"));
    visitor.person = "C. Checker";
    CHECK(offers("check"));
    may.may_check = false;
    CHECK_FALSE(offers("check"));
    CHECK(offers("discard"));
    draft.state = report::CertificateState::checked;
    CHECK(offers("issue"));
    may.may_issue = false;
    CHECK_FALSE(offers("issue"));
    CHECK(offers("send-back"));
}

TEST_CASE("a plan other than that of as found is told before the water flows", "[page]") {
    RunAhead ahead;
    ahead.wish.serial = "4711";
    ahead.wish.as_left = true;
    ahead.gauge = GaugeAtDoor{};
    ahead.steps = {{20, calib::LimitRow{0, 50, -5, 5}, 600, 1},
                   {70, calib::LimitRow{50, 90, -3, 2.5}, 60, 1}};
    ahead.limits = "class B";
    const auto page = [&] { return gauge_on_screen({}, languages()[0], ahead, "").str(); };
    CHECK(page().find("limits ±5 %") != std::string::npos);
    CHECK(page().find("limits −3 to 2.5 %") != std::string::npos);
    CHECK(page().find("another plan") == std::string::npos);
    ahead.found_plan = "Five points, as found";
    CHECK(page().find("another plan, “Five points, as found”") != std::string::npos);
    CHECK(page().find("Its limits were different") == std::string::npos);
    ahead.found_limits = "class A";
    CHECK(page().find("“class A”, here “class B”") != std::string::npos);
    // One gauge stands under one pump.
    ahead.unfinished = UnfinishedRun{"4711/2031-05-04-found", true, true};
    CHECK(page().find("is being measured now") != std::string::npos);
    CHECK(page().find("href=\"/run/4711/2031-05-04-found\"") != std::string::npos);
    CHECK(page().find("/gauge-on/start") == std::string::npos);
    // An older one is told of, and bars nothing.
    ahead.unfinished = UnfinishedRun{"4711/2031-05-03-found", false, false};
    CHECK(page().find("2031-05-03-found#next") != std::string::npos);
    CHECK(page().find("What will happen") != std::string::npos);
    ahead.unfinished = UnfinishedRun{"4711/2031-05-04-found", false};
    CHECK(page().find("href=\"/run/4711/2031-05-04-found#next\"") != std::string::npos);
}

TEST_CASE("the bench's instruments are shown with their newest calibration", "[page]") {
    report::Table all{
        {"serial", "role", "description", "bench", "certificate", "calibrated_on", "due_on"}, {}, false};
    const auto row = [&](const std::string& serial, const std::string& on) {
        all.rows.push_back({serial, std::string("balance"), std::string("d"), std::string("b"), "K" + on, on,
                            std::string("due ") + on});
    };
    row("1", "2029-02-10");
    row("1", "2031-02-10");
    row("1", "2030-02-10");
    row("2", "");
    const report::Table shown = newest_calibrations(all);
    REQUIRE(shown.rows.size() == 2);
    CHECK(report::text_of(shown.rows[0][5]) == "2031-02-10");
    CHECK(report::text_of(shown.rows[1][0]) == "2");
}

TEST_CASE("what the program says of a gauge's life is told in the language", "[page]") {
    LifeOfGauge life;
    const auto happened = [&](const char* what, std::vector<report::LifePart> parts) {
        life.events.push_back({"1", "", "2031-05-04", what, "", std::move(parts)});
    };
    const report::LifePart moved{
        "moved", "", {{"percent", -1.57, 2}, {"at_mm_h", 19.98, 1}}, {{"since", "2030-05-04"}}};
    happened("measured", {{"as_found", "as_found"}, {"pass", "pass"}, {"", "B1"}});
    happened("certificate", {{"as_found_and_left", ""}, moved});
    happened("adjusted", {{"screw", "", {{"turns", 0.25, 2, true}}, {{"side", "A"}}}});
    happened("field check", {{"poured", ""}, {"tips", "", {{"tips", 98, 0}}, {}, true}});
    happened("due", {{"interval_agreed", ""}});
    happened("received", {{"", "as found; in the rain"}});
    const auto in = [&](std::size_t language) {
        return life_screen({}, languages()[language], life, {}).str();
    };
    CHECK(in(0).find("as found; pass; B1") != std::string::npos);
    CHECK(in(1).find("wie vorgefunden; bestanden; B1") != std::string::npos);
    CHECK(in(0).find("moved −1.57 % at 20.0 mm/h since 2030-05-04") != std::string::npos);
    CHECK(in(1).find("um −1,57 % verändert bei 20,0 mm/h seit 2030-05-04") != std::string::npos);
    CHECK(in(3).find("tornillo de A +0,25 vueltas") != std::string::npos);
    CHECK(in(3).find("vertido, 98 vuelcos") != std::string::npos);
    CHECK(in(2).find("intervalle convenu avec le client") != std::string::npos);
    // A person's own words.
    CHECK(in(3).find("as found; in the rain") != std::string::npos);
}

TEST_CASE("what came out of its runs stands beside a certificate, also where a page cannot be looked at",
          "[page]") {
    report::Certificate certificate;
    certificate.id = 7;
    CertificateCameOut out;
    out.as_found = CameOut{calib::Verdict::fail, calib::Claim::stated};
    out.as_left = CameOut{calib::Verdict::pass,
                          calib::Claim::reserved,
                          false,
                          LargestError{50, -1.234, 0.31},
                          {{calib::ReservationId::contact_poor, 2}}};
    const auto shown = [&](const Result<CertificateCameOut>& came_out, std::size_t language = 0) {
        return certificate_screen({}, languages()[language], certificate, {}, {}, {}, came_out).str();
    };
    const std::string draft = shown(out);
    CHECK(draft.find("✘") < draft.find("✔"));
    CHECK(draft.find("−1.23 % ± 0.31 %, 50.0 mm/h") != std::string::npos);
    CHECK(draft.find("With reservation, as page 1 will state it:") != std::string::npos);
    out.as_left->needs_acceptance = true;
    CHECK(shown(out).find("With reservation. A certificate is issued only when") != std::string::npos);
    certificate.state = report::CertificateState::issued;
    CHECK(shown(out).find("With reservation, as page 1 states it:") != std::string::npos);
    CHECK(shown(out, 1).find("Unter Vorbehalt, wie Seite 1 ihn nennt:") != std::string::npos);
    CHECK(shown(Fault{FaultCode::damaged, "a record", "", ""})
              .find("No verdict: the results cannot be computed.") != std::string::npos);
    CHECK(shown(CertificateCameOut{}).find("Verdict") == std::string::npos);
}

TEST_CASE("a certificate that was replaced is offered in no pack", "[page]") {
    report::Certificate certificate;
    certificate.state = report::CertificateState::issued;
    certificate.number = "B1-2026-00001";
    const auto offers = [&] {
        return certificate_screen({}, languages().front(), certificate, {"certificate.pdf"}, {})
                   .str()
                   .find("pack.zip") != std::string::npos;
    };
    CHECK(offers());
    certificate.superseded_by = "B1-2026-00002";
    CHECK_FALSE(offers());
}

TEST_CASE("facts of the register are JSON as the OpenAPI file names them", "[page]") {
    std::ifstream file(std::filesystem::path(test::source_dir()) / "templates/page/openapi.json");
    const auto described = nlohmann::json::parse(file);
    Room room;
    for (const auto& [path, schema] :
         {std::pair{"gauges", "Gauges"}, {"certificates", "Certificates"}, {"due", "Due"}}) {
        INFO(path);
        REQUIRE(described["paths"].contains("/api/1/" + std::string(path)));
        const auto& properties = described["components"]["schemas"][schema]["properties"];
        const auto answer =
            nlohmann::json::parse(room.ask("GET", "/api/1/" + std::string(path) + "?serial=1").body);
        for (const auto& [name, value] : answer.items()) CHECK(properties.contains(name));
        for (const auto& [name, value] : properties.items()) CHECK(answer.contains(name));
        const auto& columns = properties[path]["items"]["properties"];
        REQUIRE(answer[path].size() == 1);
        for (const auto& [name, value] : answer[path][0].items()) CHECK(columns.contains(name));
        for (const auto& [name, value] : columns.items()) CHECK(answer[path][0].contains(name));
    }
    CHECK(room.ask("GET", "/api/1/gauges/x").status == 404);
}

TEST_CASE("what is due is a calendar with one day for each gauge", "[page]") {
    Room room;
    const std::string calendar = room.ask("GET", "/years/due.ics").body;
    CHECK(calendar.starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"));
    CHECK(calendar.ends_with("END:VCALENDAR\r\n"));
    CHECK(calendar.find("DTSTART;VALUE=DATE:20310504\r\n") != std::string::npos);
    CHECK(calendar.find("DTSTAMP:20310504T000000Z\r\n") != std::string::npos);
    // RFC 5545 3.1: no line is longer than 75 bytes.
    for (std::size_t at = 0; at < calendar.size();) {
        const std::size_t end = calendar.find("\r\n", at);
        REQUIRE(end != std::string::npos);
        CHECK(end - at <= 75);
        at = end + 2;
    }
}

TEST_CASE("curves of the years stand over each other, and their drift beside", "[page]") {
    Room room;
    auto canvas = report::certificate::Canvas::open({}, 595, 842);
    REQUIRE(canvas.ok());
    const auto life = room.desk.life("1");
    const auto charts = life_charts(*life, languages().front(), **canvas);
    REQUIRE(charts.size() == 2);
    for (const auto& [title, svg] : charts) CHECK(svg.starts_with("<div class=\"broad\"><svg"));
    CHECK(charts[1].first.find("50") != std::string::npos);
    CHECK(life_charts({}, languages().front(), **canvas).empty());
}
