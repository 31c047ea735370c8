// What goes through the desk: who is logged in, who may what, and that nothing from outside becomes markup.
#include <sodium.h>

#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "bench/page/desk/sessions.hpp"
#include "bench/page/http/desk_routes.hpp"
#include "bench/page/views/desk_charts.hpp"
#include "bench/page/views/desk_screens.hpp"
#include "bench/page/views/field_screen.hpp"
#include "report/certificate/canvas.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::page;

namespace {

const std::string hostile = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>&";

const std::vector<PageWords>& languages() {
    static const std::vector<PageWords> words = [] {
        auto loaded = load_page_words(std::filesystem::path(test::source_dir()) / "templates");
        if (!loaded) FAIL(loaded.fault().line());
        return *loaded;
    }();
    return words;
}

report::KeptCurve curve(double shift) {
    return {{10, shift + 1, 0.3}, {50, shift, 0.2}, {200, shift - 2, 0.4}};
}

GaugeAtDoor hostile_gauge() {
    GaugeAtDoor out;
    for (std::string* text : {&out.entry.serial, &out.entry.model, &out.entry.kind, &out.entry.note,
                              &out.entry.last_calibrated_on, &out.entry.due_on, &out.kind_title, &out.station,
                              &out.customer, &out.last_certificate})
        *text = hostile;
    out.order = report::Order{1, 1, hostile, hostile, hostile, ""};
    out.last_curve = curve(0);
    return out;
}

report::Table hostile_table(std::vector<std::string> columns) {
    report::Table out{std::move(columns), {}, true};
    out.rows.emplace_back();
    for (std::size_t k = 0; k < out.columns.size(); ++k) out.rows.front().emplace_back(hostile);
    return out;
}

// Says hostile things to every question, and notes what was commanded.
class HostileDesk : public Desk {
public:
    std::vector<std::string> commanded;
    std::string good_passphrase = "right";
    std::vector<report::PageCommand> notes;
    std::optional<Fault> log_lost;
    std::optional<CheckGaugeSeen> control;

    Outcome note(const report::PageCommand& command) override {
        notes.push_back(command);
        return log_lost ? Outcome(*log_lost) : Outcome(Done{});
    }

    Result<std::vector<PersonAtDoor>> persons() override {
        return std::vector<PersonAtDoor>{{"A. Signatory", true}, {hostile, false}};
    }
    Result<report::Actor> log_in(const std::string& name, const seal::Passphrase& passphrase) override {
        if (passphrase.text() == good_passphrase) return report::Actor{name, "2031-05-04T10:11:12Z", true};
        return Fault{FaultCode::wrong_passphrase, hostile, "", ""};
    }
    RunAhead look_ahead(const RunWish& wish) override {
        RunAhead out;
        out.wish = wish;
        out.benches = {{hostile, hostile}};
        out.plans = {{hostile, hostile}};
        out.bench_title = hostile;
        out.instruments = {{hostile, hostile, hostile, hostile, hostile}};
        out.sides = SidesAhead{{hostile, hostile}, 0};
        out.against = {hostile};
        out.told = {hostile};
        out.steps = {{20, calib::LimitRow{0, 50, -3, 5}, 600, 2}};
        out.limits = out.found_plan = out.found_limits = hostile;
        out.gauges = {{hostile, hostile}};
        out.gauge = hostile_gauge();
        out.fault = Fault{FaultCode::not_permitted, hostile, hostile, hostile};
        return out;
    }
    Result<std::string> start(const report::Actor&, const RunWish& wish) override {
        return noted("start " + wish.serial + wish.side_up);
    }
    Result<Permissions> permissions(const std::string&) override { return may; }
    Permissions may{true, true, true};
    Outcome recover(const report::Actor&, const RecoveryWanted& wanted) override {
        return outcome((wanted.resume ? "resume " : "close ") + wanted.run);
    }
    Outcome turned(const report::Actor&, const TurnsMade& made) override {
        return outcome("turned " + made.serial + " " + std::to_string(made.turns_a.value_or(0)) + " " +
                       std::to_string(made.turns_b.value_or(0)));
    }
    Result<AdjustmentSeen> adjust(const AdjustmentWanted&) override {
        AdjustmentSeen out;
        out.serial = hostile;
        out.advice.remarks = {{hostile, {}, hostile}};
        out.marks = {hostile, hostile};
        out.sides_known = true;
        out.advice.compartments = {{hostile, {5, 0.01}, {0.1, 0.01}, 2, calib::Uncertain{0.25, 0.05}, true},
                                   {"B", {5, 0.01}, {-0.1, 0.01}, -2, calib::Uncertain{-0.25, 0.05}, true}};
        out.advice.predicted = {
            {1, 20, {2, 0.1}, {0.1, 0.2}, 0.4, {}, calib::Verdict::no_limit, calib::Verdict::no_limit},
            {2, 100, {-1, 0.1}, {-0.4, 0.2}, 0.4, {}, calib::Verdict::no_limit, calib::Verdict::no_limit}};
        return out;
    }
    Result<report::Table> open_work() override {
        return hostile_table({"draft", "state", "serial", "drafted_by"});
    }
    Result<std::optional<CheckGaugeSeen>> check_gauge() override { return control; }
    Result<report::Table> certificates(const CertificateWanted&) override {
        return hostile_table({"certificate", "draft", "state", "serial", "calibrated_on", "kind_of_document",
                              "refers_to", "issued_by"});
    }
    Result<report::Certificate> certificate(report::Id id) override {
        report::Certificate out;
        out.id = id;
        out.serial = out.reason = out.drafted_by = out.checked_by = hostile;
        out.state = report::CertificateState::checked;
        return out;
    }
    Result<report::Certificate> certificate(const std::string&) override {
        report::Certificate out;
        out.id = 7;
        out.number = out.serial = out.issued_by = hostile;
        out.state = report::CertificateState::issued;
        return out;
    }
    Result<report::Id> draft(const report::Actor&, const std::string& serial, const std::string&) override {
        commanded.push_back("draft " + serial);
        return report::Id{7};
    }
    Result<FileGiven> look_of_draft(report::Id) override {
        return FileGiven{hostile, "application/pdf", "%PDF"};
    }
    Outcome check(const report::Actor& actor, report::Id) override {
        return outcome("check " + actor.person);
    }
    Outcome send_back(const report::Actor&, report::Id, const std::string&) override {
        return outcome("send back");
    }
    Outcome discard(const report::Actor&, report::Id, const std::string&) override {
        return outcome("discard");
    }
    Result<IssuedHere> issue(const report::Actor&, report::Id, const seal::Passphrase& passphrase,
                             const std::string&) override {
        commanded.push_back("issue " + std::string(passphrase.text()));
        return IssuedHere{"done", warnings};
    }
    Result<report::Id> replace(const report::Actor&, const std::string& number, const std::string&) override {
        commanded.push_back("replace " + number);
        return report::Id{8};
    }
    Result<FileGiven> pack(const std::string& number) override {
        return FileGiven{number + ".zip", "application/zip", "PK"};
    }
    Result<FieldCheckSeen> field_check(const report::Actor&, const FieldCheckWanted& wanted) override {
        commanded.push_back("field check " + wanted.serial);
        if (wanted.tips == 13) return Fault{FaultCode::inconsistent, hostile, "", ""};
        FieldCheckSeen out;
        out.wanted = wanted;
        out.check.volume_mL = {200, 0.5};
        out.check.error_percent = {-3, 0.6};
        out.check.error_expanded.U = 1.2;
        out.check.error_expanded.k = 2;
        out.check.remarks = {{calib::FieldNote::moved_since_certificate, 1.7, 0}};
        out.check.intensity_mm_h = 12;
        calib::StepConformity conformity;
        conformity.verdict = calib::Verdict::pass;
        out.check.conformity = conformity;
        return out;
    }
    std::vector<std::string> warnings;
    Result<report::Table> gauges(const CertificateWanted&) override {
        return hostile_table(
            {"serial", "model", "kind", "customer", "station", "last_calibrated_on", "due_on"});
    }
    Result<std::vector<std::string>> files(const std::string&) override {
        return std::vector<std::string>{hostile};
    }
    Result<FileGiven> file(const std::string&, const std::string& name) override {
        return FileGiven{name, "text/plain", hostile};
    }
    Result<LifeOfGauge> life(const std::string&) override {
        LifeOfGauge out;
        out.gauge = hostile_gauge();
        report::LifeEvent event{hostile, hostile, hostile, hostile, hostile, {}};
        event.parts = {{"", hostile},
                       {hostile, hostile},
                       {"made_by", "", {}, {{"person", hostile}}},
                       {"replaced_by", "", {}, {{"certificate", hostile}}}};
        out.events = {event};
        out.curves = {{hostile, "2029-05-04", false, curve(0)},
                      {hostile, "2030-05-04", false, curve(0.5)},
                      {hostile, "2031-05-04", true, curve(0.1)}};
        return out;
    }
    Result<report::Table> due() override {
        report::Table out = hostile_table({"due_on", "serial", "model", "kind", "customer", "station",
                                           "last_calibrated_on", "interval_months"});
        out.rows.front()[0] = std::string("2031-05-04");
        return out;
    }
    Result<report::Table> instruments() override { return hostile_table({"serial", "role"}); }
    Result<report::Table> recall(const RecallWanted&) override {
        return hostile_table({"certificate", "serial"});
    }
    Result<report::Table> in_tolerance() override { return hostile_table({"kind", "years"}); }
    std::string today() override { return "2031-05-04"; }

private:
    Result<std::string> noted(std::string what) {
        commanded.push_back(std::move(what));
        return std::string("done");
    }
    Outcome outcome(std::string what) {
        commanded.push_back(std::move(what));
        return Done{};
    }
};

struct Room {
    HostileDesk desk;
    Sessions sessions;
    std::unique_ptr<DeskRoutes> routes;
    Visitor visitor;

    Room() {
        REQUIRE(sodium_init() >= 0);
        auto canvas = report::certificate::Canvas::open({}, 595, 842);
        REQUIRE(canvas.ok());
        routes = std::make_unique<DeskRoutes>(desk, sessions, std::move(*canvas), false);
        visitor.desk = true;
        visitor.token = "token";
    }

    Response ask(std::string_view method, const std::string& target, const Fields& form = {},
                 const std::optional<report::Actor>& actor = {}, std::size_t language = 0) {
        Request request;
        REQUIRE(take_target(target, request));
        request.method = method;
        request.form = form;
        request.device = "127.0.0.1";
        visitor.path = request.path;
        visitor.person = actor ? actor->person : "";
        const PageWords& words = languages()[language];
        const auto framed = [&](std::string_view screen, const std::string& title, const Html& main,
                                int status) {
            Response out;
            out.status = status;
            out.body = frame(visitor, words, screen, title, main).str();
            return out;
        };
        REQUIRE(DeskRoutes::knows(request));
        return routes->answer(std::move(request), visitor, actor, words, framed);
    }
};

std::string header(const Response& response, std::string_view name) {
    for (const auto& [key, value] : response.headers)
        if (key == name) return value;
    return "";
}

const report::Actor signatory{"A. Signatory", "2031-05-04T10:11:12Z", true};

}  // namespace

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
    CHECK(page().find("Its limits were others") == std::string::npos);
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

TEST_CASE("a wrong passphrase opens nothing, and not often", "[page]") {
    Room room;
    const Fields wrong{{"person", "A. Signatory"}, {"passphrase", "wrong"}, {"next", "//evil.example"}};
    for (std::size_t k = 0; k < Sessions::wrong_allowed; ++k)
        CHECK(room.ask("POST", "/log-in", wrong).status == 403);
    Fields right = wrong;
    right["passphrase"] = "right";
    CHECK(room.ask("POST", "/log-in", right).status == 429);

    Room other;
    const Response in = other.ask("POST", "/log-in", right);
    CHECK(in.status == 303);
    CHECK(header(in, "Location") == "/");
    const std::string cookie = header(in, "Set-Cookie");
    CHECK(cookie.find("HttpOnly") != std::string::npos);
    CHECK(cookie.find("SameSite=Strict") != std::string::npos);
    const std::string word = cookie.substr(8, cookie.find(';') - 8);
    const auto found = other.sessions.find(word, std::chrono::steady_clock::now());
    REQUIRE(found);
    CHECK(found->person == "A. Signatory");
    CHECK(found->logged_in);
}

TEST_CASE("a session ends when nobody asks, after a day, and when it is closed", "[page]") {
    REQUIRE(sodium_init() >= 0);
    Sessions sessions;
    const Sessions::Time start{std::chrono::hours(100)};
    const std::string one = sessions.open(signatory, start);
    CHECK(one.size() >= 32);
    CHECK(sessions.open(signatory, start) != one);
    CHECK_FALSE(sessions.find("", start));
    CHECK_FALSE(sessions.find("guessed", start));
    CHECK(sessions.find(one, start + Sessions::idle));
    CHECK(sessions.find(one, start + 2 * Sessions::idle));
    CHECK_FALSE(sessions.find(one, start + 4 * Sessions::idle));
    const std::string busy = sessions.open(signatory, start);
    auto now = start;
    for (; now < start + Sessions::longest; now += Sessions::idle) CHECK(sessions.find(busy, now));
    CHECK_FALSE(sessions.find(busy, now + std::chrono::minutes(1)));
    const std::string closed = sessions.open(signatory, start);
    sessions.close(closed);
    CHECK_FALSE(sessions.find(closed, start));
    for (std::size_t k = 0; k < 2 * Sessions::most; ++k)
        sessions.open(signatory, now + std::chrono::seconds(k));
    const std::string newest = sessions.open(signatory, now + std::chrono::minutes(5));
    CHECK(sessions.find(newest, now + std::chrono::minutes(5)));
}

TEST_CASE("the way back leads to this site alone", "[page]") {
    CHECK(path_within("/gauge-on?serial=a b&x=\r\nSet-Cookie:") == "/gauge-on?serial=a+b&x=++Set-Cookie:");
    for (const char* elsewhere : {"", "//evil.example", "http://evil.example", "/\\evil.example", "x"})
        CHECK(path_within(elsewhere) == "/");
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
