// Findings and reservations say in every language what they are, with their numbers.
#include <catch2/catch.hpp>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "report/certificate/certificate.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/dcc/dcc.hpp"
#include "report/pack/formula_text.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"
#include "tests/report/document_text.hpp"
#include "tests/report/sample_certificates.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::report::certificate;
using test::languages;
using test::words_of;

namespace {

// The sample, with false tips in its second step, evaluated as the program would: nothing is stated of it.
Record doubted_record() {
    Record record = test::with_phantom_tips(test::sample_record(), 2);
    record.evaluation.conformity.steps[1].verdict = calib::Verdict::not_stated;
    record.evaluation.conformity.overall = calib::Verdict::not_stated;
    std::erase(record.evaluation.correction_steps, 2);
    state(record);
    return record;
}

}  // namespace

TEST_CASE("every finding and every reservation has its sentence in every language") {
    for (const char* language : languages) {
        const Words words = words_of(language);
        for (std::size_t i = 0; i < calib::finding_names.size(); ++i) {
            calib::Finding finding;
            finding.id = static_cast<calib::FindingId>(i);
            finding.step = 3;
            finding.run = 2;
            CHECK_NOTHROW(finding_advice(words, finding));
        }
        for (const auto name : calib::reservation_names)
            CHECK_FALSE(words.text("reservation." + std::string(name)).empty());
    }
}

TEST_CASE("a finding is written with its numbers as the language writes them") {
    calib::Finding finding =
        calib::finding_of(calib::FindingId::balance_disturbed, {{"change_g", -0.52, 2}, {"tip", 14, 0}});
    finding.step = 3;
    CHECK(finding_words(words_of("en"), finding) ==
          "Step 3: the weight changed by −0.52 g that no tip brought, near tip 14 of the collect");
    CHECK(finding_words(words_of("de"), finding).find("−0,52 g") != std::string::npos);
    // Edited by hand: no number, no sentence, but no silence either.
    finding.numbers.clear();
    CHECK(finding_words(words_of("en"), finding) == "Step 3: balance_disturbed");
}

TEST_CASE("what several steps have alike is said once, naming them") {
    std::vector<calib::Finding> findings;
    const auto warm = [&](int step, double value_C, int run = 0) {
        findings.push_back(calib::finding_of(calib::FindingId::water_temperature_outside,
                                             {{"value", value_C, 1}, {"low", 15, 1}, {"high", 20, 1}}));
        findings.back().step = step;
        findings.back().run = run;
    };
    warm(1, 20.4);
    warm(2, 20.4);
    warm(3, 20.6);
    warm(4, 20.44);  // to the digits said it is the same
    warm(5, 20.4, 2);
    const auto said = findings_words(words_of("en"), findings);
    REQUIRE(said.size() == 3);
    CHECK(said[0].starts_with("Steps 1, 2 and 4: "));
    CHECK(said[0].find("20.4 °C") != std::string::npos);
    CHECK(said[1].starts_with("Step 3: "));
    CHECK(said[2].starts_with("Step 5, run 2: "));
    CHECK(findings_words(words_of("de"), findings)[0].starts_with("Messpunkte 1, 2 und 4: "));
    CHECK(findings_words(words_of("en"), {}).empty());
}

TEST_CASE("a reservation stands on page 1 and in every file, in the language of the certificate") {
    Record record = doubted_record();
    REQUIRE(record.statement.of_step(2)->result == calib::Claim::not_stated);
    REQUIRE(check_statement(record));
    record.acceptance = Acceptance{"spare gauge, wanted today", "A. Signatory", "2031-03-05"};
    REQUIRE_FALSE(check_statement(record));
    for (const char* language : languages) {
        const Words words = words_of(language);
        const auto said = reservation_sentences(words, record);
        REQUIRE(said.size() >= 3);
        CertificateOptions options;
        options.words = words;
        const auto pdf = draw_certificate(record, options);
        REQUIRE(pdf);
        DccOptions dcc;
        dcc.words = words;
        dcc.country = "ZZ";
        const auto xml = dcc_xml(record, dcc);
        REQUIRE(xml);
        const auto table = correction_csv(record, words);
        REQUIRE(table);
        for (const std::string& sentence : said) {
            INFO(sentence);
            CHECK(xml->find(sentence) != std::string::npos);
            CHECK(table->find(sentence) != std::string::npos);
            CHECK(results_csv(record, words).find(sentence) != std::string::npos);
            CHECK(formula_text(record, words).find(sentence) != std::string::npos);
        }
        CHECK(said.back().find("spare gauge, wanted today") != std::string::npos);
    }
}

TEST_CASE("the error of a step of which nothing is stated stands nowhere") {
    Record record = doubted_record();
    record.evaluation.steps[1].error_percent.value = 77.77;
    const Record shown = as_stated(record);
    CHECK(shown.evaluation.steps.size() + 1 == record.evaluation.steps.size());
    CHECK(results_csv(record, words_of("en")).find("77.7") == std::string::npos);
    DccOptions dcc;
    dcc.words = words_of("en");
    dcc.country = "ZZ";
    const auto xml = dcc_xml(record, dcc);
    REQUIRE(xml);
    CHECK(xml->find("77.7") == std::string::npos);
}
