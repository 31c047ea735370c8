#include <catch2/catch.hpp>

#include <filesystem>
#include <fstream>
#include <regex>
#include <set>
#include <sstream>

#include "calib/rate/step_budget.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/words.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using report::certificate::parse_words;

namespace {

std::string template_text(const std::string& name) {
    std::ifstream in(tipwright::test::source_dir() + "/templates/" + name, std::ios::binary);
    std::stringstream content;
    content << in.rdbuf();
    return content.str();
}

std::string english() {
    return template_text("certificate/en.toml");
}

// Keys of a table that may have any.
std::set<std::string> keys_of(const std::string& words, const std::string& table) {
    static const std::regex key("\n([a-z_]+) = ");
    const std::size_t begin = words.find("\n[" + table + "]\n");
    REQUIRE(begin != std::string::npos);
    const std::string text = words.substr(begin + 1, words.find("\n[", begin + 1) - begin);
    std::set<std::string> keys;
    for (std::sregex_iterator at(text.begin(), text.end(), key), end; at != end; ++at) keys.insert((*at)[1]);
    return keys;
}

// What a certificate prints of a kind, a plan or limits as their file says it.
std::set<std::string> printed_texts() {
    static const std::regex printed("\n(?:title|name|catch_diameter_method) = \"([^\"]+)\"");
    std::set<std::string> texts;
    for (const char* folder : {"gauge_kinds", "plans", "limits"}) {
        const auto path = std::filesystem::path(tipwright::test::source_dir()) / "templates" / folder;
        for (const auto& file : std::filesystem::directory_iterator(path)) {
            const std::string text =
                template_text(std::string(folder) + "/" + file.path().filename().string());
            for (std::sregex_iterator at(text.begin(), text.end(), printed), end; at != end; ++at)
                texts.insert((*at)[1]);
        }
    }
    return texts;
}

std::string replaced(std::string text, const std::string& what, const std::string& by) {
    const std::size_t at = text.find(what);
    REQUIRE(at != std::string::npos);
    return text.replace(at, what.size(), by);
}

Fault fault_of(const std::string& text) {
    const auto words = parse_words(text, "w.toml");
    REQUIRE_FALSE(words.ok());
    return words.fault();
}

}  // namespace

TEST_CASE("a words file that lacks, adds or misuses a text is refused with its place") {
    const std::string good = english();
    REQUIRE(parse_words(good, "w.toml").ok());
    CHECK(fault_of(replaced(good, "foot = ", "feet = ")).code == FaultCode::unknown_field);
    CHECK(fault_of(replaced(good, "subtitle = \"Tipping-bucket rain gauge\"\n", ""))
              .line()
              .find("title.subtitle") != std::string::npos);
    const Fault placeholder = fault_of(replaced(good, "Page {page}", "Page {pgae}"));
    CHECK(placeholder.code == FaultCode::bad_value);
    CHECK(placeholder.line().find("pgae") != std::string::npos);
    CHECK(placeholder.where.find("w.toml:") == 0);
    CHECK(fault_of(replaced(good, "decimal_sign = \".\"", "decimal_sign = \";\"")).code ==
          FaultCode::bad_value);
    CHECK(fault_of(replaced(good, "nominal = \"nominal volume per tip\"", "nominal = 3")).code ==
          FaultCode::bad_value);
    CHECK(fault_of("[title\n").code == FaultCode::syntax);
    CHECK(fault_of("[title\n").where.find("w.toml:1") == 0);
    CHECK(fault_of("loose = \"x\"").code == FaultCode::unknown_field);
    CHECK(fault_of(std::string(300000, ' ')).code == FaultCode::file_too_large);
    CHECK(report::certificate::load_words("/nonexistent.toml").fault().code == FaultCode::file_missing);
}

TEST_CASE("every language has every text, with the same facts in it") {
    const auto placeholders = [](const std::string& text) {
        std::multiset<std::string> found;
        for (std::size_t open = text.find('{'); open != std::string::npos; open = text.find('{', open + 1))
            found.insert(text.substr(open, text.find('}', open) - open + 1));
        return found;
    };
    const auto original = *parse_words(english(), "en.toml");
    for (const std::string language : {"de", "fr", "es"}) {
        const auto words = report::certificate::load_words(tipwright::test::source_dir() +
                                                           "/templates/certificate/" + language + ".toml");
        INFO((words.ok() ? language : words.fault().line()));
        REQUIRE(words.ok());
        CHECK(words->language() == language);
        CHECK(words->decimal_sign() == ',');
        CHECK(words->number("-3.50") == "−3,50");
        for (const auto& key : report::certificate::word_keys()) {
            INFO(key.key);
            // A translation may not drop a value, nor leave the English text.
            CHECK(placeholders(words->text(key.key)) == placeholders(original.text(key.key)));
        }
        CHECK(words->text("summary.correction") != original.text("summary.correction"));
        CHECK(words->date("2026-03-02").find("2026") != std::string::npos);
        CHECK(words->date("2026-03-02").find("March") == std::string::npos);
    }
}

TEST_CASE("every component of a budget has its word in every language, and no other has one") {
    const auto ids = calib::budget_component_ids();
    const std::set<std::string> all(ids.begin(), ids.end());
    REQUIRE(all.size() == ids.size());
    for (const char* language : {"de", "fr", "es"}) {
        INFO(language);
        // In English a component goes by the label it has in the record.
        CHECK(keys_of(template_text(std::string("certificate/") + language + ".toml"), "component") == all);
    }
    CHECK(keys_of(english(), "component").empty());
}

TEST_CASE("what a certificate prints of the kinds, plans and limits that are here is in its language") {
    const auto texts = printed_texts();
    REQUIRE(texts.size() > 15);
    for (const char* language : {"de", "fr", "es"}) {
        const auto words = report::certificate::load_words(tipwright::test::source_dir() +
                                                           "/templates/certificate/" + language + ".toml");
        REQUIRE(words);
        for (const std::string& text : texts) {
            INFO(language << ": [translated] lacks \"" << text << "\"");
            CHECK_FALSE(words->named("translated", text, "").empty());
        }
    }
}

TEST_CASE("texts are filled, and filling what is not there is a bug") {
    const auto words = *parse_words(english(), "w.toml");
    CHECK(words.text("page.foot", {{"page", "2"}, {"pages", "5"}}) == "Page 2 of 5");
    CHECK_THROWS_AS(words.text("page.foot", {{"page", "2"}}), std::out_of_range);
    CHECK_THROWS_AS(words.text("no.such"), std::out_of_range);
    CHECK(words.text("page.head", {{"document", "{number}"}, {"number", "{page}"}}) == "{number} {page}");
    CHECK(words.named("component", "no_such_component", "its own label") == "its own label");
}

TEST_CASE("numbers and dates as the language writes them") {
    const auto english_words = *parse_words(english(), "w.toml");
    CHECK(english_words.number("-3.50") == "−3.50");
    const auto comma =
        *parse_words(replaced(english(), "decimal_sign = \".\"", "decimal_sign = \",\""), "w.toml");
    CHECK(comma.number("-3.50") == "−3,50");
    CHECK(english_words.date("2026-03-02") == "2 March 2026");
    CHECK(english_words.moment("2026-03-02T08:14:00Z") == "2 March 2026, 08:14 UTC");
    CHECK(english_words.moment("2026-03-02") == "2 March 2026");
    CHECK(english_words.short_date("2026-03-02") == "2026-03-02");
    for (const char* odd :
         {"", "spring 2026", "2026-13-02", "2026-02-31", "2026-3-2", "2026-00-10", "20260302"}) {
        CHECK(english_words.date(odd) == odd);
        CHECK(english_words.moment(odd) == odd);
    }
    CHECK(english_words.list({}) == "");
    CHECK(english_words.list({"a"}) == "a");
    CHECK(english_words.list({"a", "b", "c"}) == "a, b and c");
}

TEST_CASE("numbers of the certificate are rounded once, by one rule") {
    const auto words = *parse_words(english(), "w.toml");
    const report::certificate::Numbers numbers(words);
    const auto pair = numbers.pair(-2.3449, {2.04, 0.3712, 0.95});
    CHECK(pair.value == "−2.34");
    CHECK(pair.U == "0.37");
    CHECK(pair.k == "2.04");
    CHECK(numbers.percent(0.95) == "95");
    CHECK(numbers.percent(0.9973) == "99.73");
    CHECK(numbers.probability(0.0004) == "<\u00a00.1");
    CHECK(numbers.probability(0.99999) == ">\u00a099.9");
    CHECK(numbers.probability(0.5) == "50.0");
    CHECK(numbers.dof(calib::infinite_dof) == "∞");
    CHECK(numbers.dof(9) == "9");
    CHECK(numbers.dof(3.456) == "3.5");
    CHECK(numbers.figures(12.94321, 4) == "12.94");
    CHECK(numbers.figures(0.001234567, 2) == "0.0012");
}
