// The comparison of records. E_n: ISO 13528:2022 clause 9.7 (from memory), difference over the root of the
// sum of the squared expanded uncertainties; the expected values are computed here from the records.
#include <catch2/catch.hpp>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "calib/base/text.hpp"
#include "report/comparison/comparison_pdf.hpp"
#include "report/files/fingerprint.hpp"
#include "tests/report/pdf_text.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

const std::string source = tipwright::test::source_dir();

report::Record gauge(const std::string& serial, double V0_mL, double tau_s, const std::string& date,
                     report::State state = report::State::as_found) {
    test::SampleOptions wish;
    wish.intensities_mm_h = {20, 50, 90, 130, 200};
    wish.V0_mL = V0_mL;
    wish.tau_s = tau_s;
    report::Record record = test::sample_record(wish);
    record.identity.serial = serial;
    record.started_at = date + "T08:00:00Z";
    record.ended_at = date + "T10:00:00Z";
    record.state = state;
    record.number =
        serial.substr(3) + "/" + date.substr(0, 4) + (state == report::State::as_found ? "f" : "l");
    record.source_sha256 = report::sha256_hex(record.number);
    return record;
}

// One gauge over three years, one other that is worse at high rates.
std::vector<report::Record> life() {
    return {gauge("EX-1", 6.30, 0.20, "2026-03-02"), gauge("EX-1", 6.00, 0.20, "2023-03-02"),
            gauge("EX-1", 6.20, 0.20, "2023-03-02", report::State::as_left),
            gauge("EX-2", 6.20, 0.60, "2024-06-01")};
}

std::string layout_file(const std::string& name, const std::string& bytes) {
    const auto folder = tipwright::test::scratch_dir() / "tests" / "comparison";
    std::filesystem::create_directories(folder);
    const auto file = folder / (name + ".pdf");
    std::ofstream(file, std::ios::binary) << bytes;
    return file.string();
}

}  // namespace

TEST_CASE("records are put in the order of time, as found before as left") {
    const auto comparison = report::compare_records(life(), {});
    REQUIRE(comparison.ok());
    REQUIRE(comparison->records.size() == 4);
    CHECK(comparison->records[0].number == "1/2023f");
    CHECK(comparison->records[0].state == report::State::as_found);
    CHECK(comparison->records[1].state == report::State::as_left);
    CHECK(comparison->records[2].serial == "EX-2");
    CHECK(comparison->records[3].started_at == "2026-03-02T08:00:00Z");
    CHECK(comparison->records[3].key == "D");
    REQUIRE(comparison->intensities.size() == 5);
    CHECK(comparison->intensities[4].intensity_mm_h == 200);
}

TEST_CASE("E_n is the difference over its expanded uncertainty") {
    auto records = life();
    // Another rim, another balance: nothing in common.
    for (calib::StepResult& step : records[3].evaluation.steps)
        for (calib::BudgetComponent& component : step.budget)
            if (!component.cause.empty()) component.cause += ", other";
    const auto comparison = *report::compare_records(records, {});
    // At 90 mm/h: records[1] is the first in time, records[3] the other gauge.
    const auto& row = comparison.intensities[2];
    REQUIRE(row.intensity_mm_h == 90);
    REQUIRE(row.errors[2]);
    REQUIRE(row.errors[2]->en);
    CHECK_FALSE(row.errors[0]->en);
    const double difference = row.errors[2]->percent.value - row.errors[0]->percent.value;
    const double expected = difference / std::hypot(row.errors[2]->U_percent, row.errors[0]->U_percent);
    CHECK(*row.errors[2]->en == Approx(expected).epsilon(0.01));  // k by the degrees of freedom of both
    // What both have in common takes no part.
    const auto of_one_bench = *report::compare_records(life(), {});
    CHECK(*of_one_bench.intensities[2].errors[2]->en < 1.05 * expected);
    CHECK(*row.errors[2]->en < -1);
    // The records' own errors, near enough: their reference intensities lie within 0.2 % of 90.
    CHECK(row.errors[2]->percent.value ==
          Approx(records[3].evaluation.steps[2].error_percent.value).margin(0.05));
}

TEST_CASE("drift goes from as left to as found, by the years between") {
    const auto records = life();
    const auto comparison = *report::compare_records(records, {});
    REQUIRE(comparison.drifts.size() == 5);
    for (const report::GaugeDrift& drift : comparison.drifts) {
        CHECK(drift.serial == "EX-1");
        CHECK(drift.drift.stretches == 1);
    }
    // 2023-03-02 to 2026-03-02 is 1096 days; from 6.20 mL as left to 6.30 mL as found.
    const double years = 1096 / 365.2425;
    const double left = records[2].evaluation.steps[2].error_percent.value;
    const double found = records[0].evaluation.steps[2].error_percent.value;
    CHECK(comparison.drifts[2].drift.percent_per_year.value == Approx((found - left) / years).margin(0.01));
    CHECK(comparison.drifts[2].drift.significant);
}

TEST_CASE("a step of which nothing is stated is compared with nothing, and named") {
    auto records = life();
    // Phantom tips at 90 mm/h, and an error there that no gauge has.
    records[3] = test::with_phantom_tips(std::move(records[3]), 3);
    records[3].evaluation.steps[2].error_percent.value = -40;
    report::state(records[3]);
    const auto comparison = *report::compare_records(records, {});
    REQUIRE(comparison.records[2].serial == "EX-2");
    CHECK(comparison.records[2].left_out == std::vector<int>{3});
    CHECK(comparison.records[0].left_out.empty());
    REQUIRE(comparison.intensities[2].intensity_mm_h == 90);
    // Between its neighbours, which are sound.
    CHECK(comparison.intensities[2].errors[2]->percent.value > -15);
    CHECK(report::comparison_text(comparison).find("C: of these steps nothing is stated") !=
          std::string::npos);
    CHECK(report::comparison_csv(comparison).find("# C: of these steps nothing is stated") !=
          std::string::npos);
    for (const std::string language : {"en", "de", "fr", "es"}) {
        report::Stationery paper;
        paper.words = test::sample_words(source, language);
        const auto pdf = report::draw_comparison(comparison, paper);
        REQUIRE(pdf.ok());
        const std::string said = paper.words.text("comparison.left_out", {{"key", "C"}, {"steps", "3"}});
        CHECK(test::joined_text(*pdf).find(said) != std::string::npos);
    }
    for (int step = 1; step <= 5; ++step) records[3] = test::with_phantom_tips(std::move(records[3]), step);
    report::state(records[3]);
    CHECK(report::compare_records(records, {}).fault().what.find("stated of 0 of its 5 steps") !=
          std::string::npos);
}

TEST_CASE("up to which intensity an accuracy is kept") {
    report::ComparisonRequest wish;
    wish.limit_percent = 5;
    const auto comparison = *report::compare_records(life(), wish);
    // EX-2: e = A h / (V0 + tau Q) - 1 crosses -5 % where V0 + tau Q = V_n / 0.95.
    const double nominal = 200.0 * 200.0 * M_PI / 4 / 100 * 0.2 / 10;
    const double crossing_mL_s = (nominal / 0.95 - 6.20) / 0.60;
    const double crossing_mm_h = crossing_mL_s * 36000 / (200.0 * 200.0 * M_PI / 4 / 100);
    const auto& kept = comparison.records[2].kept;
    CHECK(kept.kept_at_all);
    CHECK_FALSE(kept.kept_to_the_end);
    // The error's uncertainty of a quarter per cent brings the guarded range in a little.
    CHECK(kept.to_mm_h < crossing_mm_h + 1);
    CHECK(kept.to_mm_h > 0.85 * crossing_mm_h);
    CHECK(comparison.records[1].kept.kept_to_the_end);
}

TEST_CASE("the CSV has a row for each record and intensity") {
    const auto comparison = *report::compare_records(life(), {});
    std::istringstream in(report::comparison_csv(comparison));
    int rows = 0;
    for (std::string line; std::getline(in, line);)
        if (line.rfind("#", 0) != 0 && line.rfind("key,", 0) != 0) ++rows;
    CHECK(rows == 20);
    const std::string csv = report::comparison_csv(comparison);
    CHECK(csv.find("\"Example TB-200, EX-2\"") != std::string::npos);
    CHECK(csv.find("# drift of EX-1 at 90 mm/h") != std::string::npos);
}

TEST_CASE("the terminal table names every record and marks what differs") {
    const std::string text = report::comparison_text(*report::compare_records(life(), {}));
    CHECK(text.find("Example TB-200, EX-2") != std::string::npos);
    CHECK(text.find(" !") != std::string::npos);
    CHECK(text.find("significant") != std::string::npos);
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) CHECK(code_point_count(line) <= 100);
}

TEST_CASE("the PDF shows every record, in every language, and is no certificate") {
    const auto comparison = *report::compare_records(life(), {});
    for (const std::string language : {"en", "de", "fr", "es"}) {
        for (const auto paper : {report::Paper::a4, report::Paper::letter}) {
            report::Stationery wish;
            wish.paper = paper;
            wish.words = test::sample_words(source, language);
            const auto pdf = report::draw_comparison(comparison, wish);
            REQUIRE(pdf.ok());
            const std::string text = test::joined_text(*pdf);
            for (const auto& record : comparison.records)
                CHECK(text.find(record.number) != std::string::npos);
            CHECK(text.find(wish.words.text("comparison.not_a_certificate").substr(0, 30)) !=
                  std::string::npos);
            CHECK(text.find(wish.words.text("mark.invented").substr(0, 20)) != std::string::npos);
            CHECK(*pdf == *report::draw_comparison(comparison, wish));
            const std::string file = layout_file("comparison_" + language, *pdf);
            if (std::system("command -v qpdf > /dev/null 2>&1") == 0)
                CHECK(std::system(("qpdf --check '" + file + "' > /dev/null 2>&1").c_str()) == 0);
        }
    }
}

TEST_CASE("what cannot be compared is refused and named") {
    const auto fault_of = [](const std::vector<report::Record>& records,
                             const report::ComparisonRequest& wish = {}) {
        const auto comparison = report::compare_records(records, wish);
        REQUIRE_FALSE(comparison.ok());
        return comparison.fault();
    };
    auto records = life();
    CHECK(fault_of({records[0]}).code == FaultCode::too_few_points);
    records[1].started_at = "last spring";
    CHECK(fault_of(records).code == FaultCode::missing_field);
    CHECK(fault_of(records).where.find("EX-1") != std::string::npos);
    records = life();
    test::SampleOptions no_rate;
    no_rate.no_duration = true;
    records[3] = test::sample_record(no_rate);
    CHECK(fault_of(records).where.find("EX-000123") != std::string::npos);
    report::ComparisonRequest wish;
    wish.limit_percent = 0;
    CHECK(fault_of(life(), wish).code == FaultCode::bad_value);
    wish = {};
    wish.coverage = std::nan("");
    CHECK(fault_of(life(), wish).code == FaultCode::bad_value);

    std::vector<report::Record> many;
    for (int i = 0; i < 9; ++i) many.push_back(gauge("EX-" + std::to_string(i), 6.2, 0.3, "2024-01-01"));
    const auto nine = report::compare_records(many, {});
    REQUIRE(nine.ok());
    report::Stationery paper;
    paper.words = test::sample_words(source);
    CHECK(report::draw_comparison(*nine, paper).fault().code == FaultCode::bad_value);
}

TEST_CASE("static checks are compared with each other, not with errors at a rate") {
    const auto at_rest = [](report::Record record) {
        record.evaluation.steps.resize(1);
        for (calib::StepResult& step : record.evaluation.steps) {
            step.reference_intensity_mm_h.reset();
            step.flow_mL_min.reset();
            step.observation.duration_s.reset();
            step.observation.set_intensity_mm_h = 0;
        }
        return record;
    };
    const report::Record first = at_rest(gauge("EX-1", 6.20, 0.20, "2024-03-02"));
    const report::Record second = at_rest(gauge("EX-1", 6.30, 0.20, "2026-03-02"));
    const auto comparison = report::compare_records({first, second}, {});
    REQUIRE(comparison.ok());
    REQUIRE(comparison->intensities.size() == 1);
    CHECK(comparison->intensities[0].intensity_mm_h == 0);
    const auto& errors = comparison->intensities[0].errors;
    REQUIRE((errors[0] && errors[1]));
    CHECK(errors[1]->percent.value == Approx(second.evaluation.steps[0].error_percent.value));
    CHECK(errors[1]->percent.u == Approx(second.evaluation.steps[0].error_percent.u).epsilon(1e-6));
    REQUIRE(errors[1]->en);
    CHECK(*errors[1]->en < 0);
    REQUIRE(comparison->drifts.size() == 1);
    CHECK(comparison->drifts[0].drift.percent_per_year.value < 0);
    CHECK_FALSE(report::comparison_text(*comparison).empty());

    const auto mixed = report::compare_records({first, gauge("EX-1", 6.30, 0.20, "2026-03-02")}, {});
    REQUIRE_FALSE(mixed.ok());
    CHECK(mixed.fault().line().find("static check") != std::string::npos);
}
