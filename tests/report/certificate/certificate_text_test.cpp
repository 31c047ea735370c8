// The words on the certificate against approved copies in fixtures/certificates/. To approve a change, run
//   TIPWRIGHT_APPROVE=1 report_tests "certificates say what was approved"
// and read the difference before committing it.
#include <catch2/catch.hpp>

#include <cstdlib>
#include <fstream>
#include <regex>
#include <set>
#include <sstream>

#include "calib/decision/adjustment_limits.hpp"
#include "report/certificate/document_words.hpp"
#include "report/certificate/text_block.hpp"
#include "tests/report/pdf_text.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using report::certificate::document_name;

namespace {

std::string approved_form(std::string_view pdf) {
    std::string out;
    int page = 0;
    for (const auto& runs : test::pdf_text(pdf)) {
        out += "== page " + std::to_string(++page) + "\n";
        for (const std::string& run : runs) out += run + "\n";
    }
    // The fingerprint of the attached record moves with the last bit of its numbers.
    return std::regex_replace(out, std::regex("[0-9a-f]{64}"), "<sha256>");
}

std::string read(const std::string& file) {
    std::ifstream in(file, std::ios::binary);
    std::stringstream content;
    content << in.rdbuf();
    return content.str();
}

std::string text_of(const std::string& name) {
    for (const auto& sample : test::sample_certificates()) {
        if (sample.name != name) continue;
        const auto pdf = test::draw(sample, test::sample_words(test::source_dir()));
        REQUIRE(pdf.ok());
        return test::joined_text(*pdf);
    }
    FAIL("no sample " + name);
    return "";
}

// A symbol that leans is a run of its own: blanks between runs say nothing.
std::string tight(std::string text) {
    std::erase(text, ' ');
    return text;
}

bool says(const std::string& text, const std::string& part) {
    return tight(text).find(tight(part)) != std::string::npos;
}

}  // namespace

TEST_CASE("certificates say what was approved") {
    const auto words = test::sample_words(test::source_dir());
    const std::set<std::string> approved{"three_steps", "twelve_steps", "one_static_check", "failing_draft",
                                         "both_states"};
    for (const auto& sample : test::sample_certificates()) {
        if (!approved.count(sample.name)) continue;
        INFO(sample.name);
        const auto pdf = test::draw(sample, words);
        REQUIRE(pdf.ok());
        const std::string file = test::source_dir() + "/fixtures/certificates/" + sample.name + ".txt";
        const std::string text = approved_form(*pdf);
        if (std::getenv("TIPWRIGHT_APPROVE")) std::ofstream(file, std::ios::binary) << text;
        CHECK(text == read(file));
    }
}

TEST_CASE("a certificate carries what ISO/IEC 17025:2017 7.8.2.1 asks for") {
    const std::string text = text_of("three_steps");
    const report::Record record = test::sample_record();
    for (const std::string& part :
         {std::string("Calibration certificate"), record.laboratory.name, record.laboratory.address,
          record.place, record.number, record.customer.name, record.customer.contact, record.identity.serial,
          record.identity.model, std::string("26 February 2026"), std::string("2 March 2026"),
          std::string("5 March 2026"), record.authorised_by, record.operator_name,
          std::string("hold only for the item"), std::string("reproduced only in full"),
          std::string("Deviations from the method: none"), std::string("End of certificate DEMO-2026-00042")})
        CHECK(says(text, part));
}

TEST_CASE("and what 7.8.4 and 7.8.6 ask for") {
    const std::string text = text_of("three_steps");
    CHECK(says(text, "U = k u"));
    CHECK(says(text, "coverage probability of 95 %"));
    CHECK(says(text, "Conditions of measurement"));
    CHECK(says(text, "traceable to the SI"));
    CHECK(says(text, "as found"));
    CHECK(says(text, "guard band w = U (ILAC-G8:09/2019)"));
    CHECK(says(text, "at most 2.5 %"));
    CHECK(says(text, "No interval for the next calibration is recommended"));
    // Before and after adjustment, both in one certificate.
    const std::string both = text_of("both_states");
    CHECK(says(both, "Results, as found"));
    CHECK(says(both, "Results, as left"));
    CHECK(says(both, "As found, before adjustment, its error lay between +0.41 % and +9.25 %"));
}

TEST_CASE("every page has the number and its place in the whole") {
    for (const auto& sample : test::sample_certificates()) {
        const auto pdf = test::draw(sample, test::sample_words(test::source_dir()));
        REQUIRE(pdf.ok());
        const auto pages = test::pdf_text(*pdf);
        for (std::size_t i = 0; i < pages.size(); ++i) {
            std::string text;
            for (const std::string& run : pages[i]) text += run + " ";
            CHECK(says(text, document_name(test::sample_words(test::source_dir()), sample.record)));
            CHECK(says(text, "Page " + std::to_string(i + 1) + " of " + std::to_string(pages.size())));
        }
    }
}

TEST_CASE("what the document is not stands on every page") {
    const auto marked = [&](const std::string& name, const std::string& front, const std::string& later) {
        for (const auto& sample : test::sample_certificates()) {
            if (sample.name != name) continue;
            const auto pages = test::pdf_text(*test::draw(sample, test::sample_words(test::source_dir())));
            for (std::size_t i = 0; i < pages.size(); ++i) {
                std::string text;
                for (const std::string& run : pages[i]) text += run + " ";
                CHECK(says(text, i == 0 ? front : later));
            }
        }
    };
    marked("three_steps", "DEMONSTRATION. Identities and data are invented", "DEMONSTRATION");
    marked("three_steps", "VIRTUAL BENCH. The measurement was simulated", "VIRTUAL BENCH");
    marked("static_checks", "EVALUATED FROM SUPPLIED DATA", "SUPPLIED DATA");
    marked("failing_draft", "DRAFT. No number has been given", "DRAFT");
    marked("failing_draft", "NOT AUTHORISED", "NOT AUTHORISED");
    CHECK_FALSE(says(text_of("failing_draft"), "DEMONSTRATION"));
}

TEST_CASE("a static check says that no rate correction was derived") {
    const std::string text = text_of("static_checks");
    CHECK(says(text, "No rate correction was derived"));
    CHECK_FALSE(says(text, "h(T)"));
    CHECK_FALSE(says(text, "mm/h the gauge read"));
}

// At 100 mm/h "from 2 to 100: 3 %" and "from 100 to 300: 5 %" both held, and the reader saw 99.97 and a FAIL.
TEST_CASE("where two ranges of limits meet, the page says which of them judges") {
    report::Record record = test::sample_record();
    for (const std::string language : {"en", "de", "fr", "es"}) {
        INFO(language);
        const auto words = test::sample_words(test::source_dir(), language);
        const std::string sentence =
            tight(report::certificate::without_marks(words.text("conformity.limits_meet")));
        for (const double second_from : {100.0, 100.5}) {
            record.evaluation.conformity.limits.rows = {{2, 100, -3, 3}, {second_from, 300, -5, 5}};
            const auto pdf = test::draw({"limits", record, {}, {}}, words);
            REQUIRE(pdf);
            CHECK((tight(test::joined_text(*pdf)).find(sentence) != std::string::npos) ==
                  (second_from == 100));
        }
    }
    record.evaluation.conformity.limits.rows[1].from_mm_h = 100;
    CHECK(calib::limits_at(record.evaluation.conformity.limits, 100)->high_percent == 3);
}

TEST_CASE("a sentence gives an error to the decimals of the table below it") {
    report::Record record = test::sample_record();
    record.evaluation.steps[0].error_percent.value = -7.792;
    record.evaluation.steps[0].error_expanded.U = 0.69;
    record.evaluation.steps[1].error_expanded.U = 1.8;
    const auto pdf = test::draw({"decimals", record, {}, {}}, test::sample_words(test::source_dir()));
    REQUIRE(pdf);
    const std::string text = tight(test::joined_text(*pdf));
    CHECK(text.find("7.8%toolow") != std::string::npos);
    CHECK(text.find("7.79%toolow") == std::string::npos);
}

TEST_CASE("the summary says it for a farmer") {
    CHECK(says(text_of("three_steps"),
               "from 20 mm/h to 200 mm/h the gauge read between 6.40 % too low and 1.33 % too high"));
    CHECK(says(text_of("three_steps"), "It does not meet the limits (class B, ±5 %) at 200 mm/h"));
    CHECK(says(text_of("twelve_steps"), "at 200, 300, 400 and 500 mm/h"));
    CHECK(says(text_of("twelve_steps"), "for a decision at 170 mm/h"));
    CHECK(says(text_of("static_checks"),
               "It meets the limits (class B, ±5 %) in the static check; nothing is stated of how it reads "
               "in steady rain."));
    CHECK(says(text_of("one_static_check"), "No statement of conformity was asked for"));
    CHECK(says(text_of("failing_draft"), "too high. It does not meet"));
}

TEST_CASE("whoever computes with the printed formula meets the printed table") {
    const report::Record record = test::sample_record();
    const std::string text = tight(text_of("three_steps"));
    std::smatch found;
    REQUIRE(std::regex_search(text, found, std::regex("h\\(T\\)=([0-9.]+)mm·T/\\(T−([0-9.]+)s\\)")));
    const double h0 = std::stod(found[1]);
    const double tau = std::stod(found[2]);
    for (const calib::CorrectionRow& row : record.evaluation.correction->rows) {
        const double by_formula = h0 * row.interval_s / (row.interval_s - tau);
        // A tenth of the expanded uncertainty: half a unit of the last figure printed.
        CHECK(by_formula == Approx(row.depth_mm.value).margin(0.1 * 2 * row.depth_mm.u));
    }
}

TEST_CASE("the budget's shares make a whole") {
    const std::string text = text_of("three_steps");
    CHECK(says(text, "Budget of the error of indication for the step of largest uncertainty, step 1"));
    CHECK(says(text, "combined standard"));
}

// ISO/IEC 17025:2017, 7.8.2.1 n: deviations from the method. 6.4.9 and 7.10: equipment out of order was used
// knowingly.
TEST_CASE("an instrument that was used despite what spoke against it is told in each language") {
    auto sample = test::sample_certificates()[0];
    sample.record.concessions = {
        {"balance",
         "INV-BAL-11",
         report::Nonconformity::calibration_overdue,
         "2026-02-10",
         {},
         {},
         "new one ordered."},
        {"balance", "", report::Nonconformity::check_failed, "2026-02-27", -0.034, 500, ""}};
    const std::pair<const char*, std::pair<const char*, const char*>> expected[] = {
        {"en",
         {"Balance (INV-BAL-11): its calibration was due on 10 February 2026; it was used despite that. "
          "Reason given: new one ordered.",
          "Balance: it failed its check of 27 February 2026 with an error of −0.034 g at 500 g; it was used "
          "despite that. Reason given: none."}},
        {"de",
         {"Waage (INV-BAL-11): Kalibrierung war am 10. Februar 2026 fällig; trotzdem benutzt. Angegebener "
          "Grund: new one ordered.",
          "Abweichung −0,034 g bei 500 g; trotzdem benutzt. Angegebener Grund: keiner."}},
        {"fr", {"étalonnage échu le 10 février 2026 ; employé malgré cela", "Motif donné : aucun."}},
        {"es",
         {"su calibración vencía el 10 de febrero de 2026; se usó pese a ello", "Motivo indicado: ninguno."}},
    };
    for (const auto& [language, sentences] : expected) {
        const auto pdf = test::draw(sample, test::sample_words(test::source_dir(), language));
        REQUIRE(pdf.ok());
        const std::string text = test::joined_text(*pdf);
        INFO(language << text);
        CHECK(says(text, sentences.first));
        CHECK(says(text, sentences.second));
    }
}

TEST_CASE("the other languages say the same numbers with their own sign") {
    const auto sample = test::sample_certificates()[0];
    const std::pair<const char*, const char*> expected[] = {
        {"de", "lag die Messabweichung des Geräts zwischen −6,40 % und +1,33 %"},
        {"fr", "était comprise entre −6,40 % et +1,33 %"},
        {"es", "estuvo comprendido entre −6,40 % y +1,33 %"},
    };
    for (const auto& [language, sentence] : expected) {
        const auto pdf = test::draw(sample, test::sample_words(test::source_dir(), language));
        REQUIRE(pdf.ok());
        const std::string text = test::joined_text(*pdf);
        INFO(language);
        CHECK(says(text, sentence));
        CHECK(says(text, "h(T) = 0,195761 mm · T / (T − 0,320000 s)"));
        CHECK_FALSE(says(text, "6.40"));
    }
}

// What is said before the chart differs in length: marks, reservations, seal, states, the language's own
// words. All of page 1 is drawn smaller where it would push the chart to another page.
TEST_CASE("page 1 holds the chart of its results, whatever stands before it, in every language") {
    const report::SealMark seal = test::sample_certificates().front().seal.value();
    for (auto sample : test::sample_certificates()) {
        if (sample.name == "static_checks" || sample.name == "one_static_check") continue;
        const bool draft = sample.record.number == "DRAFT";
        if (!draft) sample.seal = seal;
        for (const std::string language : {"en", "de", "fr", "es"}) {
            for (const auto paper : {report::Paper::a4, report::Paper::letter}) {
                INFO(language << " " << sample.name << (paper == report::Paper::a4 ? " A4" : " Letter"));
                const auto words = test::sample_words(test::source_dir(), language);
                const auto pdf = test::draw(sample, words, paper);
                REQUIRE(pdf.ok());
                const auto pages = test::pdf_text(*pdf);
                std::string page;
                for (const std::string& run : pages.front()) page += run + " ";
                CHECK(says(page, words.text("chart.error_title")));
                // A draft says so instead of a number, in that language.
                if (draft)
                    CHECK(says(page, words.text("document.number_calibration_certificate") +
                                         words.text("mark.short_draft")));
            }
        }
    }
}

// As a laboratory has it: five instruments, each with who issued its certificate, and limits of its room.
void measure_on_a_full_bench(report::Record& record) {
    const std::string issuer = "Fernlow Calibration Service (invented)";
    const auto used = [&](const char* role, const char* description, const char* number,
                          const char* traceability) {
        return report::InstrumentUsed{role,
                                      description,
                                      std::string("INV-") + number,
                                      std::string("INV-2026-") + number,
                                      "2026-02-10",
                                      "2027-02-10",
                                      traceability,
                                      issuer,
                                      "INV-K-0001"};
    };
    record.instruments = {used("balance", "Precision balance 4100 g / 0.01 g (invented)", "BAL-11",
                               "calibrated with weights of class E2 traceable to the SI (invented)"),
                          used("tip counter", "Two-channel tip counter with microsecond clock (invented)",
                               "CNT-13", "clock compared with a radio time signal (invented)"),
                          used("climate", "Water and air thermometer, barometer, hygrometer (invented)",
                               "CLI-14", "calibrated by comparison, traceable to the SI (invented)"),
                          used("caliper", "Caliper 300 mm / 0.02 mm (invented)", "CAP-15",
                               "calibrated with gauge blocks traceable to the SI (invented)"),
                          {"pump", "Peristaltic pump, six rollers (invented)", "INV-PUM-12", "", "", "",
                           "sets the flow only; the reference is the balance and the clock"}};
    record.bench.environment = {calib::PermittedRange{15, 28}, calib::PermittedRange{16, 28}, std::nullopt,
                                calib::PermittedRange{20, 80}};
    record.laboratory_facts.procedure =
        "LRG-P-07 Tipping-bucket gauges by steady flow and weighing (invented)";
    record.laboratory_facts.procedure_issue = "4, 2026-01-15";
    report::state(record);
}

TEST_CASE("what a certificate must state ends on page 2, with both states on a full bench too") {
    const report::SealMark seal = test::sample_certificates().front().seal.value();
    for (auto sample : test::sample_certificates()) {
        if (sample.name != "three_steps" && sample.name != "both_states") continue;
        sample.seal = seal;
        measure_on_a_full_bench(sample.record);
        if (sample.as_found) measure_on_a_full_bench(*sample.as_found);
        for (const std::string language : {"en", "de", "fr", "es"}) {
            INFO(language << " " << sample.name);
            const auto words = test::sample_words(test::source_dir(), language);
            const auto pdf = test::draw(sample, words);
            REQUIRE(pdf.ok());
            const auto pages = test::pdf_text(*pdf);
            std::string page;
            for (const std::string& run : pages.at(1)) page += run + " ";
            CHECK(says(page, words.text("closing.sealed")));
        }
    }
}

// A bench's description may say anything of an instrument: where no certificate is named, nothing shows it.
TEST_CASE("the words of an instrument's traceability stand where its certificate is named, and not without") {
    auto sample = test::sample_certificates().front();
    const std::string claim = "calibrated with weights traceable to the SI";
    const std::string remark = "sets the flow only";
    sample.record.instruments.assign(2, report::InstrumentUsed{});
    sample.record.instruments[0].role = "balance";
    sample.record.instruments[0].traceability = claim;
    sample.record.instruments[1].role = "pump";
    sample.record.instruments[1].traceability = remark;
    const auto text_with = [&](const std::string& certificate) {
        sample.record.instruments[0].certificate = certificate;
        report::state(sample.record);
        const auto pdf = test::draw(sample, test::sample_words(test::source_dir()));
        REQUIRE(pdf.ok());
        return test::joined_text(*pdf);
    };
    CHECK(says(text_with("C-77"), claim));
    CHECK_FALSE(says(text_with(""), claim));
    CHECK(says(text_with(""), remark));
}

TEST_CASE(
    "the summary names intensities in ascending order, both ends of a range with sign, U in two digits") {
    test::SampleOptions wish;
    wish.V0_mL = 5.9;
    wish.tau_s = 0.9;
    wish.intensities_mm_h = {200, 20, 90, 150};
    wish.rule = calib::DecisionRule::simple_acceptance;
    test::SampleCertificate sample{"falling", test::sample_record(wish), test::sample_record(wish), {}};
    sample.record.state = report::State::as_left;
    for (auto& row : sample.record.evaluation.correction->rows) row.factor_U = 0.002 * row.factor;
    const auto pdf = test::draw(sample, test::sample_words(test::source_dir()));
    REQUIRE(pdf.ok());
    const std::string text = test::joined_text(*pdf);
    INFO(text.substr(0, 4000));
    CHECK(says(text, "at 150 and 200 mm/h"));
    CHECK(says(text, "between −15.83 % and +3.70 %"));
    CHECK(says(text, "at most 0.20 %"));
}
