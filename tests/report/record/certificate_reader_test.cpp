#include <catch2/catch.hpp>

#include "report/certificate/pdf_finish.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

std::string sample_pdf() {
    return *test::draw(test::sample_certificates()[0], test::sample_words(tipwright::test::source_dir()));
}

}  // namespace

TEST_CASE("what is no PDF, or none of ours, is refused") {
    CHECK(report::read_attached_record("", "c.pdf").fault().code == FaultCode::damaged);
    CHECK(report::read_attached_record("%PDF-1.4\n%%EOF", "c.pdf").fault().code == FaultCode::damaged);
    CHECK(report::read_attached_record(std::string(report::max_certificate_bytes + 1, ' '), "c.pdf")
              .fault()
              .code == FaultCode::file_too_large);
    const auto other = report::read_attachment(sample_pdf(), "c.pdf", "notes.txt");
    REQUIRE_FALSE(other.ok());
    CHECK(other.fault().code == FaultCode::missing_field);
}

TEST_CASE("a certificate cut short is refused, never half read") {
    const std::string pdf = sample_pdf();
    const std::string record = *report::read_attached_record(pdf, "c.pdf");
    for (std::size_t keep = 0; keep + 16 < pdf.size(); keep += 4999) {
        const auto read = report::read_attached_record(std::string_view(pdf).substr(0, keep), "c.pdf");
        CHECK_FALSE(read.ok());
    }
}

TEST_CASE("an attachment that unpacks to too much is refused") {
    const std::string pdf = sample_pdf();
    const auto bomb = report::certificate::finish_pdf(
        pdf, {{"record.json", "application/json", "", std::string(report::max_attachment_bytes + 1, ' ')}},
        {}, {});
    REQUIRE(bomb.ok());
    CHECK(bomb->size() < 2u << 20);
    const auto read = report::read_attached_record(*bomb, "c.pdf");
    REQUIRE_FALSE(read.ok());
    CHECK(read.fault().code == FaultCode::file_too_large);
}
