// A certificate says what is known of this gauge and this run, and nothing else: found by an assessor who
// held the papers alone.
#include <catch2/catch.hpp>

#include "report/certificate/certificate.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/method_words.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"
#include "tests/report/document_text.hpp"
#include "tests/report/pdf_text.hpp"

using namespace tipwright;
using namespace tipwright::report;
using test::dcc_of;
using test::languages;
using test::plain;
using test::words_of;

namespace {

std::string page_of(const Record& record, const certificate::Words& words) {
    const auto pdf = test::draw({"sample", record, {}, {}}, words);
    REQUIRE(pdf);
    return plain(test::joined_text(*pdf));
}

bool holds(const std::string& text, const std::string& part) {
    return text.find(plain(part)) != std::string::npos;
}

void add_caliper(Record& record) {
    record.instruments.push_back({"caliper", "Caliper (invented)", "INV-CAP-15", "INV-2026-15", "2026-02-10",
                                  "2027-02-10", "calibrated with gauge blocks (invented)"});
}

}  // namespace

TEST_CASE("a caliper's certificate makes no length traceable whose rim nobody measured") {
    Record record = test::sample_record();
    add_caliper(record);
    state(record);
    REQUIRE(record.statement.traceability.length == calib::Trace::named);
    struct Rim {
        const char* method;
        bool nominal;
    };
    for (const Rim& rim : {Rim{"nominal diameter of the kind, rim not measured", true},
                           Rim{"nominal diameter of the kind, rim not measured (drawing 7)", true},
                           Rim{"as supplied", false}, Rim{"", false}}) {
        record.identity.catch_diameter_method = rim.method;
        state(record);
        CHECK(record.statement.traceability.length == calib::Trace::missing);
        // It is said, and asks for nobody's acceptance: as of any other quantity that is not traceable.
        CHECK_FALSE(record.statement.needs_acceptance());
        for (const char* language : languages) {
            INFO(language << ", " << rim.method);
            const auto words = words_of(language);
            const std::string length = words.text("instruments.length");
            const std::string reserved = words.text("document.not_traceable", {{"quantities", length}});
            const std::string paper = page_of(record, words);
            CHECK(holds(paper, reserved));
            CHECK(holds(paper, words.text("instruments.rim_not_measured")) == rim.nominal);
            CHECK(holds(plain(dcc_of(record, words)), reserved));
        }
    }
}

TEST_CASE("Monte Carlo confirms steps that its table holds, and no other") {
    test::SampleOptions wish;
    wish.monte_carlo = true;
    for (const char* language : languages) {
        INFO(language);
        const auto words = words_of(language);
        const std::string others = words.text("monte_carlo.others_confirmed");
        Record record = test::sample_record(wish);
        auto& checks = record.evaluation.monte_carlo;
        REQUIRE(checks.size() == 3);
        for (calib::MonteCarloCheck& check : checks) check.error_percent.validation.valid = true;
        CHECK_FALSE(holds(page_of(record, words), others));
        checks.front().error_percent.validation.valid = false;
        CHECK(holds(page_of(record, words), others));
        for (calib::MonteCarloCheck& check : checks) check.error_percent.validation.valid = false;
        CHECK_FALSE(holds(page_of(record, words), others));
        // One step is left, the others are doubted: there is no other one.
        for (const int step : {2, 3}) record = test::with_phantom_tips(record, step);
        for (const std::size_t i : {1u, 2u})
            record.evaluation.monte_carlo[i].error_percent.validation.valid = true;
        state(record);
        REQUIRE(steps_not_stated(record) == std::vector<int>{2, 3});
        record.acceptance = Acceptance{"agreed", "A. Signatory", "2026-03-05"};
        CHECK_FALSE(holds(page_of(record, words), others));
    }
}

TEST_CASE("a method that was not applied is not described") {
    test::SampleOptions wish;
    for (const char* language : languages) {
        INFO(language);
        const auto words = words_of(language);
        Record record = test::sample_record(wish);
        // As far as its source, whose blanks break no line.
        const std::string fit = words.text("method.fit").substr(0, words.text("method.fit").find('('));
        CHECK(holds(page_of(record, words), fit));
        CHECK(holds(plain(dcc_of(record, words)), fit));
        // One point is left: nothing was fitted.
        record.evaluation.model.reset();
        record.evaluation.correction.reset();
        state(record);
        CHECK_FALSE(holds(page_of(record, words), fit));
        CHECK_FALSE(holds(plain(dcc_of(record, words)), fit));

        test::SampleOptions still;
        still.no_duration = true;
        still.intensities_mm_h = {0};
        const Record checked = test::sample_record(still);
        const std::string paper = page_of(checked, words);
        // Nothing was timed: no flow, no intensity.
        CHECK(paper.find("\u0394t") == std::string::npos);
        CHECK(paper.find("iref") == std::string::npos);

        CHECK(dcc_of(checked, words).find("<dcc:norm>ISO 4185") == std::string::npos);
    }
}

TEST_CASE("page 1 promises the depth of the water a gauge catches, not of the rain") {
    const std::pair<const char*, const char*> said[] = {
        {"en", "the depth of the water that the gauge catches"},
        {"de", "aufgefangenen wassers"},
        {"fr", "l'eau captée"},
        {"es", "agua captada"}};
    for (const auto& [language, catches] : said) {
        INFO(language);
        CHECK(holds(page_of(test::sample_record(), words_of(language)), catches));
    }
    CHECK_FALSE(holds(page_of(test::sample_record(), words_of("fr")), "pluie réelle"));
}

TEST_CASE("what was otherwise than the method has it is named as a deviation, on paper and in the DCC") {
    Record record = test::sample_record();
    calib::Finding warm = calib::finding_of(calib::FindingId::water_temperature_outside,
                                            {{"value", 29.9, 1}, {"low", 15, 1}, {"high", 28, 1}});
    warm.step = 1;
    calib::Finding ended =
        calib::finding_of(calib::FindingId::target_missed, {{"U_percent", 7.3, 2}, {"target_percent", 1, 2}});
    ended.step = 3;
    record.evaluation.findings = {warm, ended};
    record = test::with_phantom_tips(record, 2);
    state(record);
    record.acceptance = Acceptance{"agreed", "A. Signatory", "2026-03-05"};
    for (const char* language : languages) {
        INFO(language);
        const auto words = words_of(language);
        const std::string paper = page_of(record, words);
        CHECK_FALSE(holds(paper, words.text("method.no_deviations")));
        const auto deviations = certificate::deviations_words(record, words);
        REQUIRE(deviations.size() == 3);
        CHECK(deviations[0] == certificate::finding_words(words, warm) + ".");
        CHECK(deviations[1] == certificate::finding_words(words, ended) + ".");
        CHECK(deviations[2] == certificate::steps_words(words, {2}, words.text("method.withheld")));
        const std::string methods = plain(dcc_of(record, words));
        const std::string used =
            methods.substr(methods.find("<dcc:usedmethods>"),
                           methods.find("</dcc:usedmethods>") - methods.find("<dcc:usedmethods>"));
        for (const std::string& deviation : deviations) {
            CHECK(holds(paper, deviation));
            CHECK(holds(used, deviation));
        }
        // What is a deviation is no finding besides.
        CHECK(paper.find(plain(certificate::finding_words(words, warm))) ==
              paper.rfind(plain(certificate::finding_words(words, warm))));
    }
}

TEST_CASE("a step that is withheld keeps the intensity that was set, on paper, in DCC and tables") {
    test::SampleOptions wish;
    wish.intensities_mm_h = {10, 25, 110, 200};
    Record record = test::with_phantom_tips(test::with_phantom_tips(test::sample_record(wish), 2), 3);
    state(record);
    record.acceptance = Acceptance{"agreed", "A. Signatory", "2026-03-05"};
    REQUIRE(record.plan.steps.size() == 4);
    for (const char* language : languages) {
        INFO(language);
        const auto words = words_of(language);
        const std::string said =
            words.text("reservation.not_stated_at", {{"list", words.list({"25", "110"})}});
        const std::string paper = page_of(record, words);
        CHECK(holds(paper, said));
        CHECK(paper.find("2 25 – –") != std::string::npos);
        CHECK(paper.find("3 110 – –") != std::string::npos);
        CHECK(holds(plain(dcc_of(record, words)), said));
        CHECK(holds(plain(results_csv(record, words)), said));
    }
}

TEST_CASE("findings that count are said of each step by itself") {
    std::vector<calib::Finding> findings;
    for (const int step : {2, 3}) {
        calib::Finding extra = calib::finding_of(calib::FindingId::contact_extra,
                                                 {{"contact", 1, 0}, calib::count_of("count", 11)});
        extra.step = step;
        findings.push_back(extra);
        calib::Finding warm = calib::finding_of(calib::FindingId::water_temperature_outside,
                                                {{"value", 29.9, 1}, {"low", 15, 1}, {"high", 28, 1}});
        warm.step = step;
        findings.push_back(warm);
    }
    for (const char* language : languages) {
        INFO(language);
        const auto words = words_of(language);
        const auto said = certificate::findings_words(words, findings);
        REQUIRE(said.size() == 3);
        CHECK(said[0] == certificate::finding_words(words, findings[0]));
        CHECK(said[2] == certificate::finding_words(words, findings[2]));
    }
}

TEST_CASE("who supplied data does not stand as the laboratory that issues") {
    test::SampleOptions wish;
    wish.origin = Origin::supplied_data;
    const Record record = test::sample_record(wish);
    REQUIRE_FALSE(record.laboratory.name.empty());
    for (const char* language : languages) {
        INFO(language);
        const auto words = words_of(language);
        CertificateOptions options;
        options.words = words;
        const std::string label = words.text("front.laboratory") + " ";
        const auto unnamed = draw_certificate(record, options);
        REQUIRE(unnamed);
        CHECK(holds(plain(test::joined_text(*unnamed)), label + words.text("front.not_stated")));
        options.letterhead.laboratory = "Issuing House (invented)";
        const auto pdf = draw_certificate(record, options);
        REQUIRE(pdf);
        const std::string paper = plain(test::joined_text(*pdf));
        CHECK(holds(paper, label + "Issuing House (invented)"));
        CHECK(holds(paper, words.text("front.supplied_by")));
        CHECK(holds(paper, record.laboratory.name));
        DccOptions dcc;
        dcc.words = words;
        dcc.country = "ZZ";
        dcc.laboratory = options.letterhead.laboratory;
        const auto xml = dcc_xml(record, dcc);
        REQUIRE(xml);
        const std::size_t issuer = xml->find("<dcc:calibrationLaboratory>");
        const std::string said = xml->substr(issuer, xml->find("</dcc:calibrationLaboratory>") - issuer);
        CHECK(said.find("Issuing House") != std::string::npos);
        CHECK(said.find(record.laboratory.name) == std::string::npos);
        CHECK(xml->find(words.text("front.supplied_by") + ": " + record.laboratory.name) !=
              std::string::npos);
    }
    // Of what the laboratory measured itself its bench's name goes before the letterhead's.
    CertificateOptions own;
    own.words = words_of("en");
    own.letterhead.laboratory = "Issuing House (invented)";
    const auto pdf = draw_certificate(test::sample_record(), own);
    REQUIRE(pdf);
    CHECK(test::joined_text(*pdf).find("Issuing House") == std::string::npos);
}
