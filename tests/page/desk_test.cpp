// What goes through the desk: who is logged in, who may what, and that nothing from outside becomes markup.
#include <sodium.h>

#include <catch2/catch.hpp>

#include "bench/page/desk/sessions.hpp"
#include "bench/page/http/desk_routes.hpp"
#include "bench/page/views/desk_charts.hpp"
#include "bench/page/views/desk_screens.hpp"
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

report::ErrorCurve curve(double shift) {
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
        out.instruments = {{hostile, hostile, hostile, hostile}};
        out.against = {hostile};
        out.told = {hostile};
        out.steps = {{20, 600, 2}};
        out.gauge = hostile_gauge();
        out.fault = Fault{FaultCode::not_permitted, hostile, hostile, hostile};
        return out;
    }
    Result<std::string> start(const report::Actor&, const RunWish& wish) override {
        return noted("start " + wish.serial);
    }
    Result<AdjustmentSeen> adjust(const AdjustmentWanted&) override {
        AdjustmentSeen out;
        out.serial = hostile;
        out.advice.remarks = {hostile};
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
    Result<report::Table> certificates(const CertificateWanted&) override {
        return hostile_table({"certificate", "draft", "state", "serial"});
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
    Result<std::string> issue(const report::Actor&, report::Id, const seal::Passphrase& passphrase,
                              const std::string&) override {
        return noted("issue " + std::string(passphrase.text()));
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
        out.events = hostile_table({"serial", "model", "date", "event", "certificate", "detail"});
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
        for (const char* target :
             {"/log-in", "/gauge-on", "/gauge-on?serial=1", "/certificates", "/certificates/draft/7",
              "/adjust?run=x&per_turn=0.3&per_turn_u=0.03", "/certificates/issued/B1", "/years",
              "/years?instrument=1&from=a&to=b", "/years/gauge?serial=1"})
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

TEST_CASE("nothing is done for somebody who is not logged in", "[page]") {
    Room room;
    for (const char* path : {"/gauge-on/start", "/certificates/draft", "/certificates/draft/7/check",
                             "/certificates/draft/7/issue", "/certificates/draft/7/discard"}) {
        const Response response = room.ask("POST", path, {{"serial", "1"}, {"seal", "x"}});
        CHECK(response.status == 303);
        CHECK(header(response, "Location").starts_with("/log-in"));
    }
    CHECK(room.desk.commanded.empty());
    CHECK(room.ask("POST", "/certificates/draft/7/check", {}, signatory).status == 303);
    CHECK(room.ask("POST", "/certificates/draft/7/issue", {{"seal", "secret"}}, signatory).status == 303);
    CHECK(room.ask("POST", "/gauge-on/start", {{"serial", " 4711 "}}, signatory).status == 303);
    CHECK(room.ask("POST", "/certificates/draft/7/burn", {}, signatory).status == 404);
    CHECK(room.ask("POST", "/certificates/draft/x/check", {}, signatory).status == 404);
    CHECK(room.desk.commanded ==
          std::vector<std::string>{"check A. Signatory", "issue secret", "start 4711"});
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
    for (const auto& [title, svg] : charts) CHECK(svg.starts_with("<svg"));
    CHECK(charts[1].first.find("50") != std::string::npos);
    CHECK(life_charts({}, languages().front(), **canvas).empty());
}
