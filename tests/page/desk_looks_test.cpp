// How the desk's screens look: marks of what is past its day, letters of charts that can be read, words that
// stand in two places.
#include <catch2/catch.hpp>
#include <regex>

#include "bench/page/views/desk_charts.hpp"
#include "bench/page/views/desk_screens.hpp"
#include "report/certificate/canvas.hpp"
#include "report/register/life_words.hpp"
#include "tests/page/page_samples.hpp"

using namespace tipwright;
using namespace tipwright::page;
using namespace tipwright::page::samples;

namespace {

calib::AdjustmentAdvice advice() {
    calib::AdjustmentAdvice out;
    out.predicted = {
        {1, 20, {2, 0.1}, {0.1, 0.2}, 0.4, {}, calib::Verdict::no_limit, calib::Verdict::no_limit},
        {2, 100, {-1, 0.1}, {-0.4, 0.2}, 0.4, {}, calib::Verdict::no_limit, calib::Verdict::no_limit}};
    return out;
}

// A text of a picture: where it ends, and how tall its letters are.
struct SeenText {
    double right = 0;
    double size = 0;
    std::string text;
};

std::vector<SeenText> texts_of(const std::string& svg, report::certificate::Drawing& measure) {
    std::vector<SeenText> out;
    const std::regex level("<text x=\"([0-9.]+)\" y=\"[0-9.]+\" font-size=\"([0-9.]+)\"[^>]*>([^<]*)</text>");
    for (std::sregex_iterator at(svg.begin(), svg.end(), level), end; at != end; ++at) {
        report::certificate::Style style;
        style.size = std::stod((*at)[2]);
        out.push_back(
            {std::stod((*at)[1]) + measure.text_width((*at)[3].str(), style), style.size, (*at)[3]});
    }
    return out;
}

}  // namespace

TEST_CASE("the page's English sentences of a life are those of the terminal", "[page]") {
    const PageWords& english = languages().front();
    for (const auto& [id, sentence] : report::life_sentences) {
        const std::string* found = english.find("life." + std::string(id));
        INFO(id);
        REQUIRE(found != nullptr);
        CHECK(*found == sentence);
    }
}

TEST_CASE("what is past its day is marked by a sign and a word, what is due today is not", "[page]") {
    YearsShown shown;
    shown.today = "2031-05-04";
    shown.due = {{"due_on", "serial"}, {}, false};
    for (const char* day : {"2031-05-03", "2031-05-04", "never calibrated"})
        shown.due.rows.push_back({std::string(day), std::string("serial of ") + day});
    shown.instruments = {{"serial", "role", "description", "bench", "calibrated_on", "due_on"}, {}, false};
    for (const char* day : {"2031-01-31", "2031-08-04"})
        shown.instruments.rows.push_back({std::string("i") + day, std::string("balance"), std::string(""),
                                          std::string(""), std::string("2030-01-31"), std::string(day)});
    for (std::size_t k = 0; k < languages().size(); ++k) {
        const std::string page = years_screen({}, languages()[k], shown).str();
        const std::string& word = languages()[k].text("years.overdue");
        std::size_t count = 0;
        for (std::size_t at = 0; (at = page.find("⚠", at)) != std::string::npos; ++at) ++count;
        CHECK(count == 3);
        CHECK(page.find("⚠</span> 2031-05-03 " + word) != std::string::npos);
        CHECK(page.find("⚠</span> 2031-01-31 " + word) != std::string::npos);
        CHECK(page.find(">2031-05-04</td>") != std::string::npos);
        CHECK(page.find(">2031-08-04</td>") != std::string::npos);
        // On a phone each cell says what it is of.
        CHECK(page.find("data-of=\"" + languages()[k].text("column.due_on") +
                        "\"><span class=\"overdue\">") != std::string::npos);
        CHECK((k == 0) == (page.find("never calibrated</span>") != std::string::npos));
    }
    RunAhead ahead;
    ahead.wish.serial = "1";
    ahead.gauge = GaugeAtDoor{};
    ahead.gauge->entry.due_on = "2031-05-01";
    ahead.instruments = {{"balance", "d", "s", "2031-05-03", ""}};
    ahead.today = shown.today;
    const std::string page = gauge_on_screen({}, languages()[3], ahead, "").str();
    CHECK(page.find("⚠</span> 2031-05-03 vencido") != std::string::npos);
    CHECK(page.find("<dd>⚠ 2031-05-01 vencido</dd>") != std::string::npos);
}

TEST_CASE("letters of a chart are read on a phone, and all of them are within the picture", "[page]") {
    auto measure = report::certificate::Canvas::open({}, 595, 842);
    REQUIRE(measure.ok());
    LifeOfGauge life;
    life.curves = {{"", "2029-05-04", false, curve(0)},
                   {"an-office-with-a-long-name-2030-000123", "2030-05-04", false, curve(0.5), true},
                   {"", "2031-05-04", true, curve(0.1)}};
    // As wide as a chart is on a page of 360 px: the gaps of page.css at both sides.
    constexpr double phone_px = 320;
    for (const PageWords& words : languages()) {
        auto charts = life_charts(life, words, **measure);
        REQUIRE(charts.size() == 2);
        charts.emplace_back("", adjustment_chart(advice(), calib::default_coverage, words, **measure));
        for (const auto& [title, both] : charts) {
            const std::size_t at = both.find("<div class=\"narrow\">");
            REQUIRE(at != std::string::npos);
            REQUIRE(both.starts_with("<div class=\"broad\">"));
            const std::string narrow = both.substr(at);
            std::smatch box;
            REQUIRE(std::regex_search(narrow, box, std::regex("viewBox=\"0 0 ([0-9.]+) ([0-9.]+)\"")));
            const double width = std::stod(box[1]);
            const auto texts = texts_of(narrow, **measure);
            CHECK(texts.size() > 8);
            for (const SeenText& one : texts) {
                INFO(one.text);
                CHECK(one.size * phone_px / width >= 12);
                CHECK(one.right <= width);
            }
        }
        // On paper there is one.
        for (const auto& [title, svg] :
             life_charts(life, words, **measure, report::certificate::Theme::paper))
            CHECK(svg.find("<div") == std::string::npos);
    }
}
