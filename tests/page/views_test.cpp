// Screens are texts of what is so; nothing from outside becomes markup, in any language.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "bench/page/views/fault_words.hpp"
#include "bench/page/views/html.hpp"
#include "bench/page/views/machine.hpp"
#include "bench/page/views/page_words.hpp"
#include "bench/page/views/run_screens.hpp"
#include "report/certificate/svg.hpp"
#include "tests/page/page_samples.hpp"

using namespace tipwright;
using namespace tipwright::page;
using namespace tipwright::page::samples;

namespace {

RunFacts hostile_run() {
    RunFacts run;
    run.id = "lane/" + hostile;
    run.number = 1;
    run.stand = Stand::broken_off;
    run.hand = Hand::look_after;
    for (std::string* text :
         {&run.serial, &run.kind_title, &run.model, &run.station, &run.customer, &run.plan_name,
          &run.bench_title, &run.operator_name, &run.started_at, &run.ended_at})
        *text = hostile;
    run.remarks = {hostile};
    run.fault = Fault{FaultCode::link_lost, hostile, hostile, hostile};
    run.step = 3;
    run.steps = 7;
    run.error_percent = -1.234;
    run.error_U_percent = 0.51;
    run.contacts = 2;
    return run;
}

}  // namespace

TEST_CASE("script in any text stays text, on every screen, in every language", "[page]") {
    const RunFacts run = hostile_run();
    Visitor visitor;
    visitor.path = "/" + hostile;
    visitor.token = hostile;
    for (const PageWords& words : languages()) {
        const RunPictures none;
        for (const Html& screen : {going_on(visitor, words, {run}, {{hostile, hostile}}),
                                   one_run(visitor, words, run, none), notice(words, hostile, hostile)}) {
            const std::string page = frame(visitor, words, "going_on", hostile, screen).str();
            CHECK(page.find("<script>") == std::string::npos);
            CHECK(page.find("<img") == std::string::npos);
            CHECK(page.find("onerror=alert(1)>") == std::string::npos);
            CHECK(page.find("&lt;script&gt;") != std::string::npos);
        }
    }
}

TEST_CASE("an intensity stands in another unit too where one is wanted", "[page]") {
    RunFacts run = hostile_run();
    run.stand = Stand::running;
    run.set_intensity_mm_h = 100;
    for (PageWords words : languages()) {
        const bool comma = words.language() != "en";
        const auto shown = [&] {
            for (const auto& [place, text] : shown_texts(run, words))
                if (place == "r1.set") return text;
            return std::string();
        };
        CHECK(shown() == (comma ? "100,0" : "100.0"));
        words.show_by({}, [](double) { return std::string("3.937 in/h"); });
        CHECK(shown() == (comma ? "3,937 in/h · 100,0" : "3.937 in/h · 100.0"));
    }
}

TEST_CASE("what is shown is rounded once and written as the language does", "[page]") {
    const RunFacts run = hostile_run();
    for (const PageWords& words : languages()) {
        std::map<std::string, std::string> shown;
        for (const auto& [place, text] : shown_texts(run, words)) shown[place] = text;
        CHECK(shown.at("r1.error") == (words.language() == "en" ? "−1.23" : "−1,23"));
        CHECK(shown.at("r1.U") == (words.language() == "en" ? "0.51" : "0,51"));
        CHECK(shown.at("r1.stand") == "stopped");
        CHECK_FALSE(shown.at("r1.hand").empty());
    }
}

TEST_CASE("a complete lane says what came out, as its statement has it", "[page]") {
    RunFacts run;
    run.id = "left";
    run.number = 1;
    run.stand = Stand::complete;
    using calib::Claim;
    using calib::Verdict;
    for (const PageWords& words : languages()) {
        const auto shown = [&] {
            for (const auto& [place, text] : shown_texts(run, words))
                if (place == "r1.verdict") return text;
            return std::string("nothing");
        };
        const auto& of_paper = words.certificate();
        run.judged = Judged::not_yet;
        CHECK(shown().empty());
        run.judged = Judged::at_work;
        CHECK(shown() == words.text("verdict.working"));
        run.judged = Judged::failed;
        CHECK(shown() == "– " + words.text("verdict.failed"));
        run.judged = Judged::done;
        run.came_out = {Verdict::pass, Claim::stated, false};
        CHECK(shown() == "✔ " + of_paper.text("summary.verdict_pass"));
        run.came_out = {Verdict::pass, Claim::stated, true};
        CHECK(shown() == "✔ " + of_paper.text("summary.verdict_static_pass"));
        run.came_out = {Verdict::fail, Claim::reserved, false};
        CHECK(shown() == "✘ " + of_paper.text("reservation.verdict",
                                              {{"verdict", of_paper.text("summary.verdict_fail")}}));
        run.came_out = {Verdict::undecided, Claim::stated, false};
        CHECK(shown() == "? " + of_paper.text("summary.verdict_undecided"));
        run.came_out = {Verdict::not_stated, Claim::not_stated, false};
        CHECK(shown() == "– " + of_paper.text("reservation.no_verdict"));
        run.came_out = {Verdict::no_limit, Claim::not_stated, false};
        CHECK(shown() == "– " + words.text("verdict.no_limit"));
        CHECK(going_on({}, words, {run}, {}).str().find(Html().text(words.text("verdict.no_limit")).str()) !=
              std::string::npos);
        const auto told = nlohmann::json::parse(run_json(run));
        CHECK(told["verdict"] == "no_limit");
        CHECK(told["verdict_claim"] == "not_stated");
        // Of one that was broken off nothing is judged.
        run.stand = Stand::broken_off;
        CHECK(shown().empty());
        CHECK(nlohmann::json::parse(run_json(run))["verdict"].is_null());
        run.stand = Stand::complete;
    }
}

TEST_CASE("why a run stopped and what to do now is told in every language, for every code", "[page]") {
    for (int code = 0; code < fault_code_count; ++code) {
        const Fault fault{static_cast<FaultCode>(code), "the English words", "pump", "the English remedy"};
        std::set<std::string> told;
        for (const PageWords& words : languages()) {
            const std::string name(name_of(fault.code));
            INFO(name);
            CHECK_FALSE(words.text("fault." + name).empty());
            CHECK_FALSE(words.text("fault_next." + name).empty());
            const bool english = words.language() == "en";
            const std::string now = fault_now(words, fault);
            CHECK((now.find("English") != std::string::npos) == english);
            told.insert(now);
            // The numbers of it stand in the program's own words, once.
            const std::string all = fault_text(words, fault);
            CHECK(all.find("the English words") != std::string::npos);
            CHECK(all.find("the English words") == all.rfind("the English words"));
        }
        CHECK(told.size() == languages().size());
    }
}

TEST_CASE("a fault is told by its place where one code means several things", "[page]") {
    const auto words = languages();
    const PageWords& spanish = words[3];
    const auto told = [&](FaultCode code, const char* where) {
        return fault_now(spanish, {code, "x", where, "y"});
    };
    CHECK(told(FaultCode::pump_not_turning, "pump").starts_with("bomba: La bomba acepta órdenes"));
    CHECK(told(FaultCode::water_behind, "pump").find("embudo") != std::string::npos);
    CHECK(told(FaultCode::water_behind, "balance").starts_with("La balanza bajó"));
    CHECK(told(FaultCode::water_behind, "vessel").find("desenchúfela") != std::string::npos);
    CHECK(told(FaultCode::no_answer, "balance").starts_with("balanza: "));
    CHECK(told(FaultCode::no_answer, "pump").find("desenchúfela") != std::string::npos);
    CHECK(told(FaultCode::inconsistent, "step 3").starts_with("escalón 3: En cada intento algo tocó"));
    CHECK(told(FaultCode::flow_not_held, "step 2").starts_with("escalón 2: "));
    CHECK(told(FaultCode::time_limit, "watchdog").starts_with("El programa se quedó parado"));
    CHECK(told(FaultCode::file_unwritable, "/runs/left/journal.twj").starts_with("/runs/left/journal.twj: "));
    // In English the program's own words say more; what to do is never left out.
    CHECK(fault_now(words[0], {FaultCode::interrupted, "stopped by the operator", "run", ""}) ==
          "run: stopped by the operator. Resume it under “What is next”.");
    RunFacts run = hostile_run();
    run.fault = Fault{FaultCode::vessel_full, "the vessel holds 1201.0 g", "balance", "empty it"};
    run.remarks = {"The link to the balance was lost: gone."};
    const std::string page = one_run({}, spanish, run, {}).str();
    CHECK(page.find("El recipiente está lleno") != std::string::npos);
    CHECK(page.find("En palabras del programa (en inglés): balance: the vessel holds 1201.0 g") !=
          std::string::npos);
    CHECK(page.find(spanish.text("run.remarks_own")) != std::string::npos);
    const std::string others = spanish.text("run.remarks_left_out", {{"count", "7"}});
    CHECK(page.find(others) == std::string::npos);
    run.remarks_left_out = 7;
    CHECK(one_run({}, spanish, run, {}).str().find(others) != std::string::npos);
    CHECK(one_run({}, words[0], run, {}).str().find(words[0].text("run.remarks_own")) == std::string::npos);
}

TEST_CASE("options of a command are called on the page what they are called there", "[page]") {
    const auto words = languages();
    const Fault absurd{FaultCode::inconsistent, "9 tips make an error of -90 %", "--tips",
                       "count again, or keep it with --reason and why it is right; --none is none"};
    CHECK(fault_now(words[0], absurd) ==
          "tips: 9 tips make an error of -90 %; count again, or keep it with a reason and why it is right; "
          "--none is none");
    CHECK(fault_now(words[1], absurd).starts_with("Kippungen: "));
}

TEST_CASE("a complete lane shows the largest error of its certificate, not that of its last step", "[page]") {
    RunFacts run;
    run.number = 1;
    run.error_percent = -0.5;
    run.error_U_percent = 0.25;
    const auto shown = [&](const char* name) {
        for (const auto& [place, text] : shown_texts(run, languages()[0]))
            if (place == name) return text;
        return std::string("nothing");
    };
    run.stand = Stand::running;
    CHECK(shown("r1.error_of") == "Error of this step");
    CHECK(shown("r1.error") == "−0.50");
    run.stand = Stand::complete;
    run.judged = Judged::done;
    run.came_out.claim = calib::Claim::reserved;
    run.came_out.reservations = {{calib::ReservationId::limits_unconfirmed}};
    run.came_out.largest = LargestError{130, -6.24, 0.31};
    CHECK(shown("r1.error_of") == "Largest error, at 130.0 mm/h");
    CHECK(shown("r1.error") == "−6.24");
    CHECK(shown("r1.U") == "0.31");
    CHECK(shown("r1.findings").starts_with(languages()[0].text("verdict.reserved") + "\n"));
    CHECK(shown("r1.findings").find("were not confirmed against the current edition") != std::string::npos);
    run.came_out.needs_acceptance = true;
    CHECK(shown("r1.findings").starts_with(languages()[0].text("verdict.to_accept")));
    // Nothing is stated of any step.
    run.came_out.largest.reset();
    CHECK(shown("r1.error") == "–");
}

TEST_CASE("an unfinished run is gone on with or closed where it is looked at", "[page]") {
    RunFacts run;
    run.id = "left";
    run.number = 1;
    run.hand = Hand::look_after;
    Visitor visitor;
    visitor.desk = true;
    visitor.token = "token";
    const auto says = [&](const std::string& text) {
        return one_run(visitor, languages()[0], run, {}).str().find(text) != std::string::npos;
    };
    run.stand = Stand::abandoned;
    CHECK_FALSE(says("action=\"/recover\""));
    CHECK(says("Log in first"));
    visitor.person = "A. Signatory";
    CHECK(says("value=\"resume\""));
    CHECK(says("value=\"close\""));
    CHECK(says(languages()[0].text("caution.start")));
    // Closed already.
    run.stand = Stand::broken_off;
    CHECK(says("value=\"resume\""));
    CHECK_FALSE(says("value=\"close\""));
    run.stand = Stand::running;
    CHECK_FALSE(says("action=\"/recover\""));
    run.stand = Stand::complete;
    CHECK_FALSE(says("action=\"/recover\""));
}

TEST_CASE("after a stop the bench says what became of the pumps", "[page]") {
    RunFacts run;
    run.id = "left";
    run.number = 1;
    const auto said = [&](const std::optional<std::string>& just_stopped = "") {
        const std::string page = going_on({}, languages()[0], {run}, {}, just_stopped).str();
        for (const char* what : {"all", "going", "doubted"})
            if (page.find(languages()[0].text("stopped." + std::string(what))) != std::string::npos)
                return std::string(what);
        if (page.find("left has stopped its pump") != std::string::npos) return std::string("lane");
        return std::string("nothing");
    };
    run.stand = Stand::running;
    CHECK(said() == "going");
    run.stand = Stand::broken_off;
    CHECK(said() == "all");
    run.stand = Stand::abandoned;
    CHECK(said() == "doubted");
    run.stand = Stand::running;
    run.hand = Hand::pull_plug;
    CHECK(said() == "doubted");
    CHECK(said(std::nullopt) == "nothing");
    // One lane, whatever the others do.
    CHECK(said("left") == "doubted");
    run.hand = Hand::none;
    run.stand = Stand::broken_off;
    CHECK(said("left") == "lane");
}

TEST_CASE("numbers that are none are shown as unknown", "[page]") {
    RunFacts run;
    run.error_percent = 1;
    run.error_U_percent = std::numeric_limits<double>::quiet_NaN();
    run.time_left_s = std::numeric_limits<double>::quiet_NaN();
    const PageWords words = languages().front();
    for (const auto& [place, text] : shown_texts(run, words)) CHECK(text.find("nan") == std::string::npos);
    CHECK(run_json(run).find("nan") == std::string::npos);
    CHECK(metrics_text({run}).find("nan") == std::string::npos);
}

TEST_CASE("JSON is what the OpenAPI file names, no more and no less", "[page]") {
    std::ifstream file(std::filesystem::path(test::source_dir()) / "templates/page/openapi.json");
    const auto described = nlohmann::json::parse(file);
    const auto& properties = described["components"]["schemas"]["Run"]["properties"];
    const auto answer = nlohmann::json::parse(run_json(hostile_run()));
    for (const auto& [name, value] : answer.items()) CHECK(properties.contains(name));
    for (const auto& [name, value] : properties.items()) CHECK(answer.contains(name));
    const auto is_one_of = [&](const char* name) {
        const auto& allowed = properties[name]["enum"];
        return std::find(allowed.begin(), allowed.end(), answer[name]) != allowed.end();
    };
    for (const char* name : {"stand", "hand", "state"}) CHECK(is_one_of(name));
}

TEST_CASE("metrics end as OpenMetrics wants, and labels are escaped", "[page]") {
    RunFacts run;
    run.id = "a\"b\\c\nd";
    const std::string text = metrics_text({run});
    CHECK(text.ends_with("# EOF\n"));
    CHECK(text.find("run=\"a\\\"b\\\\c\\nd\"") != std::string::npos);
}

TEST_CASE("a path in a link keeps its slashes and nothing else that means something", "[page]") {
    CHECK(run_path("a b/c?d#e%") == "/run/a%20b/c%3Fd%23e%25");
    CHECK(url_text("/x", false) == "%2Fx");
}

TEST_CASE("a run that is complete leads on, and nobody is kept off a balance that nothing flows on",
          "[page]") {
    Visitor visitor;
    visitor.desk = true;
    visitor.token = "t";
    RunFacts run = hostile_run();
    run.id = "left";
    for (const PageWords& words : languages()) {
        const auto shown = [&] { return going_on(visitor, words, {run}, {}).str(); };
        run.stand = Stand::running;
        run.hand = Hand::none;
        CHECK(shown().find("/run/left#next") == std::string::npos);
        CHECK(shown().find("/run/left/stop") != std::string::npos);
        CHECK(shown().find(words.text("now.nothing")) != std::string::npos);
        run.stand = Stand::complete;
        CHECK(shown().find("/run/left#next") != std::string::npos);
        CHECK(shown().find("/run/left/stop") == std::string::npos);
        CHECK(shown().find(words.text("now.nothing")) == std::string::npos);
        CHECK(shown().find(Html().text(words.text("now.idle")).str()) != std::string::npos);
        CHECK(one_run(visitor, words, run, {}).str().find("id=\"next\"") != std::string::npos);
    }
}

TEST_CASE("kinds and plans are called what the language calls them", "[page]") {
    RunFacts run;
    run.id = "left";
    run.kind_title = "Two-compartment bucket, 200 mm, siphon, two contacts";
    run.plan_name = "Three-point check";
    const auto words = languages();
    const std::string page = one_run({}, words[1], run, {}).str();
    CHECK(page.find("Zweikammerwippe, 200 mm, Heber, zwei Kontakte") != std::string::npos);
    CHECK(page.find("Prüfung an drei Punkten") != std::string::npos);
    CHECK(page.find("Two-compartment") == std::string::npos);
}
