// What the laboratory states of its work, on the page and in the DCC, in four languages.
#include <catch2/catch.hpp>

#include <fstream>

#include "calib/rate/capability_floor.hpp"
#include "report/certificate/facts_words.hpp"
#include "report/certificate/letterhead.hpp"
#include "report/dcc/dcc.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"
#include "tests/report/pdf_text.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/report/scratch_folder.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

report::Record with_facts() {
    report::Record record = test::sample_record();
    record.laboratory_facts.procedure = "IRL-P-07 Rain gauges by weighing";
    record.laboratory_facts.procedure_issue = "4 of 2026-01-15";
    record.laboratory_facts.water = "demineralised, below 10 µS/cm";
    record.laboratory_facts.agreed_rule =
        calib::AgreedRule{record.plan.rule, "order confirmation IRL-31, section 4"};
    record.laboratory_facts.signatories = {{"A. Signatory", "head of the laboratory"}};
    record.bench.water_allowance_kg_m3 = 0.02;
    record.bench.environment.air_temperature_C = calib::PermittedRange{18, 26};
    record.bench.capability = {{10, 7.5}, {500, 7.5}};
    record.instruments[0].issued_by = "Fernlow Calibration Service";
    record.instruments[0].accreditation = "INV-K-0001";
    for (calib::StepResult& step : record.evaluation.steps)
        REQUIRE(calib::raise_to_capability(step, record.bench.capability, 0.95, "run"));
    calib::Finding outside = calib::finding_of(calib::FindingId::air_temperature_outside,
                                               {{"value", 27.3, 1}, {"low", 18, 1}, {"high", 26, 1}});
    outside.step = 2;
    record.evaluation.findings.push_back(outside);
    report::state(record);
    return record;
}

bool prints(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

// A picture of one white pixel: PNG of 8 bits, grey.
const std::string white_png(
    "\x89\x50\x4e\x47\x0d\x0a\x1a\x0a\x00\x00\x00\x0d\x49\x48\x44\x52\x00\x00\x00\x01"
    "\x00\x00\x00\x01\x08\x00\x00\x00\x00\x3a\x7e\x9b\x55\x00\x00\x00\x0a\x49\x44\x41"
    "\x54\x78\xda\x63\xf8\x0f\x00\x01\x01\x01\x00\x1c\xb0\x8c\x99\x00\x00\x00\x00\x49"
    "\x45\x4e\x44\xae\x42\x60\x82",
    67);

}  // namespace

TEST_CASE("facts of the laboratory stand on the page in each language") {
    const report::Record record = with_facts();
    for (const std::string language : {"en", "de", "fr", "es"}) {
        INFO(language);
        const auto words = test::sample_words(test::source_dir(), language);
        const auto pdf = test::draw({"facts", record, {}, {}}, words);
        INFO((pdf ? "" : pdf.fault().line()));
        REQUIRE(pdf);
        const std::string text = test::joined_text(*pdf);
        for (const std::string& fact :
             {std::string("IRL-P-07 Rain gauges by weighing"), std::string("4 of 2026-01-15"),
              std::string("demineralised, below 10 µS/cm"),
              std::string("order confirmation IRL-31, section 4"), std::string("head of the laboratory"),
              std::string("Fernlow"), std::string("0001"), std::string("7.8.6.1"),
              words.text("facts.permitted"), words.number("27.3")}) {
            INFO(fact);
            CHECK(prints(text, fact));
        }
        // On page 1: that U was raised, and the reservation.
        std::string first;
        const auto pages = test::pdf_text(*pdf);
        for (const std::string& run : pages.front()) first += run + " ";
        CHECK(prints(first, "CMC"));
        CHECK(prints(first, words.text("reservation.environment_outside")));
        CHECK(prints(first, words.number("7.5")));
        // Nothing of it where nothing is stated.
        const auto without = test::draw({"plain", test::sample_record(), {}, {}}, words);
        REQUIRE(without);
        const std::string plain = test::joined_text(*without);
        CHECK_FALSE(prints(plain, "CMC"));
        CHECK_FALSE(prints(plain, words.text("facts.permitted")));
        CHECK_FALSE(prints(plain, "7.8.6.1"));
    }
}

// An assessor worked out t times u from the page, and met another U.
TEST_CASE("the page prints where k is not Student's t but belongs to an interval by Monte Carlo") {
    test::SampleOptions wish;
    wish.monte_carlo = true;
    report::Record record = test::sample_record(wish);
    REQUIRE_FALSE(record.evaluation.monte_carlo.empty());
    for (const auto& [language, sentence] : {std::pair{"en", "does not confirm this"},
                                             {"de", "das nicht bestätigt, stammt"},
                                             {"fr", "ne le confirme pas"},
                                             {"es", "no lo confirma"}}) {
        INFO(language);
        const auto words = test::sample_words(test::source_dir(), language);
        for (const bool confirmed : {true, false}) {
            for (calib::MonteCarloCheck& check : record.evaluation.monte_carlo)
                check.error_percent.validation.valid = true;
            record.evaluation.monte_carlo.front().error_percent.validation.valid = confirmed;
            const auto pdf = test::draw({"interval", record, {}, {}}, words);
            REQUIRE(pdf);
            CHECK(prints(test::joined_text(*pdf), sentence) == !confirmed);
        }
    }
}

TEST_CASE("the page prints why a siphon's error is known better than the intensity it is told for") {
    report::Record record = test::sample_record();
    calib::BudgetComponent held = record.evaluation.steps.front().budget.front();
    held.id = "siphon_storage";
    for (const auto& [language, sentence] : {std::pair{"en", "the siphon may hold anything up to one tip"},
                                             {"de", "kann der Heber bis zu einer Kippung"},
                                             {"fr", "le siphon peut retenir"},
                                             {"es", "el sifón puede retener"}}) {
        INFO(language);
        const auto words = test::sample_words(test::source_dir(), language);
        report::Record with = record;
        with.evaluation.steps.front().budget.push_back(held);
        CHECK(prints(test::joined_text(*test::draw({"held", with, {}, {}}, words)), sentence));
        CHECK_FALSE(prints(test::joined_text(*test::draw({"held", record, {}, {}}, words)), sentence));
    }
}

TEST_CASE("facts of the laboratory travel in DCC, record and tables") {
    report::DccOptions options;
    options.words = test::sample_words(test::source_dir());
    options.country = "NO";
    const report::Record record = with_facts();
    const auto xml = report::dcc_xml(record, options);
    REQUIRE(xml);
    for (const char* fact : {"<dcc:reference>Procedure: IRL-P-07 Rain gauges by weighing, issue 4 of "
                             "2026-01-15.</dcc:reference>",
                             "demineralised, below 10 µS/cm", "agreed with the customer",
                             "order confirmation IRL-31", "head of the laboratory</dcc:role>",
                             "issued by Fernlow Calibration Service, accreditation INV-K-0001",
                             "raised to the laboratory's calibration", "7.5 % at 10 mm/h",
                             "the air was at 27.3 °C", "limits of the environment"})
        CHECK(prints(*xml, fact));
    const auto again = report::record_from_json(report::record_to_json(record), "r.json");
    INFO((again ? "" : again.fault().line()));
    REQUIRE(again);
    CHECK(report::record_to_json(*again) == report::record_to_json(record));
    CHECK(prints(report::results_csv(record, options.words), "# U: At steps 1, 2 and 3 U(e) was raised to"));
    CHECK_FALSE(prints(report::results_csv(test::sample_record(), options.words), "CMC"));
}

TEST_CASE("an accreditation mark is a picture of its own, and no test report bears it") {
    const test::ScratchFolder folder;
    std::ofstream(folder / "mark.png", std::ios::binary) << white_png;
    std::ofstream(folder / "head.toml") << "accreditation_mark = \"mark.png\"\n";
    const auto head = report::load_letterhead(folder / "head.toml");
    REQUIRE(head);
    CHECK(head->picture.empty());
    CHECK(head->mark == white_png);
    report::CertificateOptions options;
    options.words = test::sample_words(test::source_dir());
    options.letterhead = *head;
    report::Record record = test::sample_record();
    const auto with = report::draw_certificate(record, options);
    INFO((with ? "" : with.fault().line()));
    CHECK(with);
    for (auto& used : record.instruments) used.certificate.clear();
    report::state(record);
    REQUIRE(record.statement.document == calib::DocumentKind::test_report);
    const auto refused = report::draw_certificate(record, options);
    REQUIRE_FALSE(refused);
    CHECK(prints(refused.fault().line(),
                 "bears an accreditation mark, but no instrument's certificate is named"));
    CHECK(prints(refused.fault().line(), "mark.png"));
    options.letterhead = {};
    CHECK(report::draw_certificate(record, options));
    std::ofstream(folder / "head.toml") << "accreditation_mark = \"none.png\"\n";
    CHECK(prints(report::load_letterhead(folder / "head.toml").fault().line(), "none.png"));
}
