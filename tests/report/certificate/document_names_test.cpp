// A report of measurements that others made, or of a bench without certificates, nowhere calls itself a
// calibration certificate; verdicts carry their reservation wherever they stand; a translation says what it
// is.
#include <catch2/catch.hpp>

#include <cmath>
#include <regex>

#include "calib/rate/one_rate.hpp"
#include "calib/tips/sides.hpp"
#include "report/certificate/certificate.hpp"
#include "report/certificate/correction_words.hpp"
#include "report/certificate/document_words.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/method_words.hpp"
#include "report/certificate/supplied_words.hpp"
#include "report/certificate/text_block.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/dcc/dcc.hpp"
#include "report/pack/formula_text.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"
#include "tests/report/document_text.hpp"
#include "tests/report/pdf_text.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::report::certificate;
using test::dcc_of;
using test::languages;
using test::plain;
using test::words_of;

namespace {

std::string without(std::string text, const std::string& part) {
    for (std::size_t at; !part.empty() && (at = text.find(part)) != std::string::npos;)
        text.erase(at, part.size());
    return text;
}

Record supplied_record() {
    test::SampleOptions wish;
    wish.origin = Origin::supplied_data;
    Record record = test::sample_record(wish);
    record.instruments.clear();
    state(record);
    return record;
}

// A pass of limits that nobody compared with their source.
Record reserved_record() {
    Record record = test::sample_record();
    auto& conformity = record.evaluation.conformity;
    conformity.limits.confirmed = false;
    conformity.overall = calib::Verdict::pass;
    for (auto& row : conformity.steps) row.verdict = calib::Verdict::pass;
    state(record);
    return record;
}

std::string between(const std::string& text, const std::string& from, const std::string& to) {
    const std::size_t begin = text.find(from);
    REQUIRE(begin != std::string::npos);
    return text.substr(begin, text.find(to, begin) - begin);
}

}  // namespace

TEST_CASE("a report of supplied data nowhere calls itself a calibration certificate") {
    const Record record = supplied_record();
    REQUIRE(record.statement.document == calib::DocumentKind::evaluation_report);
    for (const std::string language : languages) {
        const Words words = words_of(language);
        CertificateOptions options;
        options.words = words;
        const auto pdf = draw_certificate(record, options);
        REQUIRE(pdf);
        const std::string said = plain(no_certificate_sentence(words, record));
        const std::string page = test::joined_text(*pdf);
        CHECK(plain(page).find(said) != std::string::npos);
        CHECK(page.find(document_end(words, record)) != std::string::npos);
        // Title and XMP are plain in the file; the pages are not.
        const std::size_t xmp = pdf->find("<x:xmpmeta");
        REQUIRE(xmp != std::string::npos);
        const std::string metadata = pdf->substr(xmp, pdf->find("</x:xmpmeta>") - xmp);
        CHECK(metadata.find(document_name(words, record)) != std::string::npos);
        const auto table = correction_csv(record, words);
        REQUIRE(table);
        // "certificado", "certificat", "certificate"; the schema's own names of elements are not ours.
        std::string xml = dcc_of(record, words);
        for (const char* name : {"digitalCalibrationCertificate"}) xml = without(xml, name);
        for (const std::string& text :
             {page, metadata, *table, results_csv(record, words), formula_text(record, words), xml}) {
            std::string rest = without(plain(text), said);
            rest = without(rest, "certificate.pdf");
            for (const char* stem : {"certificat", "certificad", "kalibrierschein"}) {
                const std::size_t at = rest.find(stem);
                INFO(language << ": "
                              << (at == std::string::npos ? "" : rest.substr(at < 80 ? 0 : at - 80, 160)));
                CHECK(at == std::string::npos);
            }
        }
    }
}

TEST_CASE("a verdict with reservation says so on page 1, in its tables and beside itself in the DCC") {
    const Record record = reserved_record();
    for (const std::string language : languages) {
        const Words words = words_of(language);
        CertificateOptions options;
        options.words = words;
        const auto pdf = draw_certificate(record, options);
        REQUIRE(pdf);
        const auto pages = test::pdf_text(*pdf);
        std::string first;
        for (const std::string& run : pages.front()) first += run + " ";
        const std::string verdict = overall_verdict(words, record);
        CHECK(verdict != words.text("summary.verdict_pass"));
        CHECK(plain(first).find(plain(verdict)) != std::string::npos);
        CHECK(first.find(words.text("verdict.pass") + "*") != std::string::npos);
        CHECK(plain(first).find(plain(words.text("reservation.starred"))) != std::string::npos);
        const std::string xml = dcc_of(record, words);
        const std::string& why = words.text("reservation.limits_unconfirmed");
        CHECK(between(xml, "<dcc:statement id=\"conformity\"", "</dcc:statement>").find(why) !=
              std::string::npos);
        CHECK(between(xml, "<dcc:metaData refId=\"conformity\"", "</dcc:metaData>").find(why) !=
              std::string::npos);
    }
    // And one without says nothing of the kind.
    const Words words = words_of("en");
    const Record sound = test::sample_record();
    CHECK(starred_note(words, sound).empty());
    CHECK(between(dcc_of(sound, words), "<dcc:metaData refId=\"conformity\"", "</dcc:metaData>")
              .find("dcc:declaration") == std::string::npos);
}

TEST_CASE(
    "a spoon of which no rate was measured twice: that its changes between steps were not seen is said") {
    Record record = test::sample_record();
    record.origin = Origin::real_bench;
    const Words words = words_of("en");
    const std::string& said = words.text("method.no_return");
    CHECK(method_words(record, words).find(said) == std::string::npos);
    record.gauge.compartments = 1;
    CHECK(method_words(record, words).find(said) != std::string::npos);
    CHECK(method_in_brief(record, words).find(said) != std::string::npos);
    record.evaluation.steps.push_back(record.evaluation.steps.front());
    record.evaluation.steps.back().observation.step = 9;
    CHECK(method_words(record, words).find(said) == std::string::npos);
    // Why a rate stands twice in the table, and what came of it; of a gauge that changed the reservations
    // speak.
    const std::string again = words.text("method.returned", {{"first", "1"}, {"again", "9"}});
    CHECK(method_words(record, words).find(again) != std::string::npos);
    CHECK(method_in_brief(record, words).find(again) != std::string::npos);
    // What counts as one rate where runs of it are compared counts as one here.
    double& set = record.evaluation.steps.back().observation.set_intensity_mm_h;
    const double first = set;
    for (const double factor : {1.04, 1 / 1.04, 1.06, 1 / 1.06}) {
        set = first * factor;
        INFO(factor);
        CHECK((method_words(record, words).find(again) != std::string::npos) ==
              calib::is_one_rate(1, factor > 1 ? factor : 1 / factor));
    }
    set = first;
    record.statement.reservations.push_back(
        {calib::ReservationId::gauge_changed, 1, calib::Claim::not_stated});
    CHECK(method_words(record, words).find(again) == std::string::npos);
}

TEST_CASE("a spoon has no buckets: title, annex and DCC say so, and a draft has no line for a pen") {
    test::SampleCertificate spoon;
    for (const auto& sample : test::sample_certificates())
        if (sample.name == "failing_draft") spoon = sample;
    spoon.record.gauge.compartments = 1;
    spoon.record.identity.kind_title.clear();
    for (auto& step : spoon.record.evaluation.steps) {
        step.observation.compartments.reset();
        step.compartment_a_mL.reset();
        step.compartment_b_mL.reset();
    }
    for (const std::string language : {"en", "de", "fr", "es"}) {
        INFO(language);
        const Words words = words_of(language);
        const auto pdf = test::draw(spoon, words);
        REQUIRE(pdf);
        const std::string text = test::joined_text(*pdf);
        CHECK(text.find(words.text("title.subtitle_single")) != std::string::npos);
        CHECK(text.find(words.text("annex.details_single")) != std::string::npos);
        if (language != "de") CHECK(text.find(words.text("title.subtitle")) == std::string::npos);
        CHECK(text.find(words.text("annex.details")) == std::string::npos);
        CHECK(text.find(words.text("closing.signature")) == std::string::npos);
        CHECK(dcc_of(spoon.record, words).find(words.text("title.subtitle_single")) != std::string::npos);
    }
}

TEST_CASE("supplied data that name no laboratory say so, and who measured is not who evaluated") {
    Record record = supplied_record();
    record.laboratory = {};
    record.operator_name = "B. Sample";
    for (const std::string language : languages) {
        const Words words = words_of(language);
        CertificateOptions options;
        options.words = words;
        const auto pdf = draw_certificate(record, options);
        REQUIRE(pdf);
        const std::string page = test::joined_text(*pdf);
        INFO(language);
        CHECK(page.find(words.text("front.laboratory") + " " + words.text("front.not_stated")) !=
              std::string::npos);
        CHECK(page.find(words.text("closing.performed_evaluation_report") + " B. Sample") !=
              std::string::npos);
        // The word for measuring, as on a test report.
        const std::string measured = words.text("closing.performed_test_report");
        CHECK(words.text("closing.performed_evaluation_report").substr(0, measured.size()) == measured);
    }
}

TEST_CASE("what the program says of supplied data is said in the language of the document") {
    for (const std::string language : {"de", "fr", "es"}) {
        const Words words = words_of(language);
        for (const std::string_view sentence : supplied_sentences()) {
            INFO(language << ": " << sentence);
            CHECK(supplied_words(words, std::string(sentence)) != sentence);
        }
        CHECK(
            supplied_words(words, "balance.repeatability_g was not stated: taken as one display step, 0.1 g")
                .find("stated") == std::string::npos);
        CHECK(
            supplied_words(words, "balance.repeatability_g was not stated: taken as one display step, 0.01 g")
                .ends_with(" 0,01 g"));
        CHECK(supplied_words(words, "a remark of a person") == "a remark of a person");
        for (const std::string assumed : {"air_temperature_C was not stated: that of the water assumed",
                                          "air_pressure_hPa was not stated: 1000 hPa assumed",
                                          "relative_humidity_percent was not stated: 50 % assumed"})
            CHECK(supplied_words(words, assumed).find("assumed") == std::string::npos);
    }
    // A reader who has only the page knows no key of a table.
    for (const std::string language : {"en", "de", "fr", "es"})
        for (const std::string_view sentence : supplied_sentences())
            CHECK(supplied_words(words_of(language), std::string(sentence)).find('_') == std::string::npos);
}

TEST_CASE("a pass holds at the intensities tested, and says so") {
    Record record = reserved_record();
    record.evaluation.conformity.limits.confirmed = true;
    state(record);
    CHECK(overall_verdict(words_of("en"), record) == "Meets the limits at the intensities tested");
    for (auto& step : record.evaluation.steps) step.reference_intensity_mm_h.reset();
    CHECK(overall_verdict(words_of("en"), record) == "Meets the limits in the static check");
}

TEST_CASE("states measured on different days each have their date and their conditions") {
    test::SampleOptions wish;
    Record left = test::sample_record(wish);
    left.state = State::as_left;
    left.started_at = "2026-03-09T08:00:00Z";
    left.ended_at = "2026-03-09T11:00:00Z";
    for (auto& step : left.evaluation.steps) step.observation.conditions.water_temperature_C = 24.5;
    Record found = test::sample_record(wish);
    for (auto& step : found.evaluation.steps) step.observation.conditions.water_temperature_C = 17.3;
    found.instruments.front().serial = "THE-OTHER-BALANCE";
    CertificateOptions options;
    options.words = words_of("en");
    options.as_found = found;
    const auto pdf = draw_certificate(left, options);
    REQUIRE(pdf);
    const std::string text = plain(test::joined_text(*pdf));
    CHECK(text.find("as found: 2 march 2026, ") != std::string::npos);
    CHECK(text.find("as left: 9 march 2026, 08:00 to 11:00 utc") != std::string::npos);
    CHECK(text.find("range as found 17.3") != std::string::npos);
    CHECK(text.find("range as left 24.5") != std::string::npos);
    CHECK(text.find("the-other-balance") != std::string::npos);
}

TEST_CASE("states that were judged by different limits each name theirs") {
    test::SampleOptions wish;
    Record left = test::sample_record(wish);
    left.state = State::as_left;
    Record found = test::sample_record(wish);
    CertificateOptions options;
    options.words = words_of("en");
    options.as_found = found;
    const auto text_of = [&] {
        const auto pdf = draw_certificate(left, options);
        REQUIRE(pdf);
        return plain(test::joined_text(*pdf));
    };
    CHECK(text_of().find("as found: limits:") == std::string::npos);
    options.as_found->evaluation.conformity.limits.name = "The older limits";
    const std::string text = text_of();
    CHECK(text.find("as found: limits: the older limits.") != std::string::npos);
    CHECK(text.find("as left: limits: class b") != std::string::npos);
    // Judged as found, and no verdict asked for as left.
    left.evaluation.conformity.overall = calib::Verdict::no_limit;
    CHECK(text_of().find("no limits were agreed") == std::string::npos);
}

TEST_CASE("a translation says of what it is one, bears no record, and leaves the seal to the original") {
    const Record record = test::sample_record();
    CertificateOptions options;
    options.words = words_of("de");
    options.translation = TranslationOf{"en"};
    const auto pdf = draw_certificate(record, options);
    REQUIRE(pdf);
    const std::string text = plain(test::joined_text(*pdf));
    CHECK(text.find(plain("ÜBERSETZUNG von Kalibrierschein " + record.number)) != std::string::npos);
    CHECK(text.find("sprache: englisch. nur das ausgestellte dokument gilt") != std::string::npos);
    CHECK(pdf->find("/EmbeddedFile") == std::string::npos);
    CHECK(text.find("unterschrift sind die des ausgestellten dokuments") != std::string::npos);
    options.translation.reset();
    const auto original = draw_certificate(record, options);
    REQUIRE(original);
    CHECK(plain(test::joined_text(*original)).find(plain(options.words.text("closing.language"))) !=
          std::string::npos);
}

TEST_CASE("every step's budget stands in the annex where that is asked for") {
    const Record record = test::sample_record();
    CertificateOptions options;
    options.words = words_of("en");
    const auto count = [&] {
        const auto pdf = draw_certificate(record, options);
        REQUIRE(pdf);
        const std::string text = plain(test::joined_text(*pdf));
        int budgets = 0;
        for (std::size_t at = 0;
             (at = text.find("budget of the error of indication", at)) != std::string::npos; ++at)
            ++budgets;
        return budgets;
    };
    CHECK(count() == 1);
    options.budgets = Budgets::every_step;
    CHECK(count() == static_cast<int>(record.evaluation.steps.size()));
}

TEST_CASE("every number of the correction's formula has its unit") {
    test::SampleOptions wish;
    wish.all_candidates = true;
    wish.chosen = calib::RateForm::power;
    const Words words = words_of("en");
    CHECK(correction_formula(test::sample_record(wish), words).find("with ‹Q› = 1 mL/s · (") !=
          std::string::npos);
    wish.chosen = calib::RateForm::curve;
    CHECK(correction_formula(test::sample_record(wish), words).find(" mL / (‹B› + √(‹B›² − 4 · ‹C›)),\n") !=
          std::string::npos);
}

// Loggers compute in single precision. Reference: the root of v(Q) = Q T in double, by bisection.
TEST_CASE("a logger that computes the printed curve in single precision meets the fitted one") {
    test::SampleOptions wish;
    wish.all_candidates = true;
    wish.chosen = calib::RateForm::curve;
    const Record record = test::sample_record(wish);
    const auto& p = record.evaluation.model->chosen_candidate()->parameters;
    const double per_mL = 10 / record.gauge.catch_area_cm2().value;
    const std::string printed = without_marks(correction_formula(record, words_of("en")));
    std::smatch found;
    REQUIRE(std::regex_search(
        printed, found,
        std::regex("= ([0-9.]+) mm/mL · Q · T\nwith Q = ([0-9.]+) mL / \\(B \\+ √\\(B² − 4 · C\\)\\),\n"
                   "B = T − ([0-9.]+) s,  C = ([0-9.]+) s²")));
    const auto number = [&](std::size_t i) { return std::stof(found[i]); };
    for (double T = record.evaluation.correction->interval_min_s;
         T < record.evaluation.correction->interval_max_s; T *= 1.1) {
        const auto T_float = static_cast<float>(T);
        const float B = T_float - number(3);
        const float h = number(1) * (number(2) / (B + std::sqrt(B * B - 4 * number(4)))) * T_float;
        double low = 0;
        double high = 2 * p[0].value / (T - p[1].value);
        for (int i = 0; i < 100; ++i) {
            const double Q = (low + high) / 2;
            (p[0].value + p[1].value * Q + p[2].value * Q * Q > Q * T ? low : high) = Q;
        }
        INFO("T = " << T << " s");
        CHECK(static_cast<double>(h) == Approx(per_mL * low * T).epsilon(1e-5));
    }
}

TEST_CASE("what a run says of its sides stands in the language of the document") {
    Record record = test::sample_record();
    const calib::SideMarks marks{"at the screw nearest the terminal block", ""};
    record.deviations = {calib::sides_known_text(marks, 'B'), calib::sides_turned_text(3),
                         calib::sides_moved_text(), "The technician sneezed."};
    const auto english = deviations_words(record, words_of("en"));
    CHECK(std::vector(english.begin(), english.begin() + 4) == record.deviations);
    for (const char* language : {"de", "fr", "es"}) {
        const auto said = deviations_words(record, words_of(language));
        INFO(language);
        for (std::size_t k = 0; k < 3; ++k) {
            INFO(said[k]);
            for (const char* word : {" side ", "screw", " the ", "bucket"})
                CHECK(said[k].find(word) == std::string::npos);
        }
        CHECK(said[3] == record.deviations[3]);
    }
    CHECK(deviations_words(record, words_of("de"))[0] ==
          "Kammer A ist Seite A (an der Schraube nächst der Klemmleiste): Vor der ersten Kippung wurde "
          "Seite B als oben liegend angegeben.");
}

TEST_CASE("the siphon's example can be worked out again from its own numbers") {
    test::SampleOptions wish;
    Record record = test::sample_record(wish);
    record.gauge.inlet = calib::Inlet::siphon;
    const std::string text = correction_example(record, words_of("en"));
    const auto number_after = [&](const std::string& mark) {
        const std::size_t at = text.find(mark);
        INFO(text);
        REQUIRE(at != std::string::npos);
        return std::stod(text.substr(at + mark.size()));
    };
    const double time = number_after("over whole portions in ");
    const double T = number_after("‹T› = ");
    const double h = number_after("24\u00A0·\u00A0");
    const double sum = number_after("mm = ");
    CHECK(time / 24 == Approx(T).epsilon(5e-4));
    // Equal to within half of the sum's last figure.
    const std::size_t at = text.find("mm = ") + 5;
    const std::string digits = text.substr(at, text.find_first_not_of("0123456789.", at) - at);
    const std::size_t decimals = digits.size() - digits.find('.') - 1;
    CHECK(std::abs(24 * h - sum) <= 0.61 * std::pow(10, -static_cast<double>(decimals)));
}
