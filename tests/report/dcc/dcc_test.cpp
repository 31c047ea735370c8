// The DCC against the published schema (DCC 3.3.0, D-SI 2.2.1) by xmllint, when the schema folder lies beside
// the source; and what the schema cannot see.
#include <catch2/catch.hpp>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>

#include "report/certificate/finding_words.hpp"
#include "report/certificate/work_words.hpp"
#include "report/dcc/dcc.hpp"
#include "report/dcc/xml_writer.hpp"
#include "report/record/statement_of.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
namespace fs = std::filesystem;

namespace {

const std::string source = tipwright::test::source_dir();
const fs::path schema = fs::path(source) / ".." / "shared" / "schemas" / "dcc" / "dcc.xsd";

report::DccOptions options(const std::string& language = "en") {
    report::DccOptions out;
    out.words = test::sample_words(source, language);
    out.country = "NO";
    return out;
}

std::string dcc_of(const test::SampleCertificate& sample, report::DccOptions filter = options()) {
    filter.as_found = sample.as_found;
    const auto xml = report::dcc_xml(sample.record, filter);
    INFO((xml.ok() ? std::string() : xml.fault().line()));
    REQUIRE(xml.ok());
    return *xml;
}

bool have_validator() {
    if (!fs::exists(schema)) {
        WARN("the folder ../shared/schemas/dcc is not there: not validated against the published schema");
        return false;
    }
    if (std::system("command -v xmllint > /dev/null 2>&1") != 0) {
        WARN("xmllint (libxml2-utils) is not installed: not validated against the published schema");
        return false;
    }
    return true;
}

std::string written(const std::string& name, const std::string& xml) {
    const fs::path folder = tipwright::test::scratch_dir() / "tests" / "dcc";
    fs::create_directories(folder);
    const fs::path file = folder / (name + ".xml");
    std::ofstream(file, std::ios::binary) << xml;
    return file.string();
}

bool is_valid(const std::string& name, const std::string& xml) {
    const std::string log = (tipwright::test::scratch_dir() / "tests" / "dcc" / (name + ".log")).string();
    const std::string file = written(name, xml);
    const int status = std::system(
        ("xmllint --noout --nonet --schema '" + schema.string() + "' '" + file + "' > '" + log + "' 2>&1")
            .c_str());
    return status == 0;
}

// Every reference leads to an element of that id, and no id stands twice: xmllint does not see to that.
void check_references(const std::string& xml) {
    std::vector<std::string> ids;
    const std::regex id(" id=\"([^\"]*)\"");
    for (std::sregex_iterator it(xml.begin(), xml.end(), id), end; it != end; ++it) {
        CHECK(std::find(ids.begin(), ids.end(), (*it)[1].str()) == ids.end());
        ids.push_back((*it)[1]);
    }
    const std::regex ref(" refId=\"([^\"]*)\"");
    for (std::sregex_iterator it(xml.begin(), xml.end(), ref), end; it != end; ++it)
        CHECK(std::find(ids.begin(), ids.end(), (*it)[1].str()) != ids.end());
}

// The first element of that name, from its opening to its closing tag.
std::string without(const std::string& xml, const std::string& element) {
    const std::size_t start = std::min(xml.find("<" + element + ">"), xml.find("<" + element + " "));
    REQUIRE(start != std::string::npos);
    const std::string closing = "</" + element + ">";
    const std::size_t end = xml.find(closing, start);
    REQUIRE(end != std::string::npos);
    return xml.substr(0, start) + xml.substr(end + closing.size());
}

// Numbers of an element within the quantity of that reference type (or that name).
std::vector<double> numbers(const std::string& xml, const std::string& quantity, const std::string& element) {
    const std::size_t at = xml.find(quantity);
    REQUIRE(at != std::string::npos);
    const std::size_t open = xml.find("<" + element + ">", at);
    const std::size_t close = xml.find("</" + element + ">", open);
    REQUIRE(close != std::string::npos);
    std::istringstream in(xml.substr(open + element.size() + 2, close - open - element.size() - 2));
    std::vector<double> out;
    for (double value; in >> value;) out.push_back(value);
    return out;
}

}  // namespace

TEST_CASE("the DCC of every sort of record is valid against the published schema") {
    if (!have_validator()) return;
    for (const auto& sample : test::sample_certificates()) {
        test::SampleCertificate numbered = sample;
        if (numbered.record.authorised_by.empty()) numbered.record.number = "DRAFT-1";
        INFO(sample.name);
        CHECK(is_valid(sample.name, dcc_of(numbered)));
    }
    for (const std::string language : {"de", "fr", "es"})
        CHECK(is_valid("language_" + language, dcc_of(test::sample_certificates()[1], options(language))));
}

TEST_CASE("a DCC with the PDF inside and an earlier certificate named is valid") {
    if (!have_validator()) return;
    const auto sample = test::sample_certificates()[0];
    report::DccOptions filter = options();
    filter.pdf = *test::draw(sample, filter.words);
    filter.replaces = report::ReplacedCertificate{true, "DEMO-2026-00040", std::string(64, 'a')};
    const std::string xml = dcc_of(sample, filter);
    CHECK(is_valid("with_pdf", xml));
    CHECK(xml.find("<dcc:typeOfChange>amended<") != std::string::npos);
    CHECK(xml.find("JVBERi0xLjc") != std::string::npos);  // %PDF-1.7 in base 64
}

TEST_CASE("a DCC that lacks an element is refused by the schema") {
    if (!have_validator()) return;
    const std::string whole = dcc_of(test::sample_certificates()[0]);
    REQUIRE(is_valid("whole", whole));
    for (const char* element : {"dcc:administrativeData",
                                "dcc:measurementResults",
                                "dcc:dccSoftware",
                                "dcc:coreData",
                                "dcc:countryCodeISO3166_1",
                                "dcc:uniqueIdentifier",
                                "dcc:beginPerformanceDate",
                                "dcc:performanceLocation",
                                "dcc:items",
                                "dcc:identifications",
                                "dcc:calibrationLaboratory",
                                "dcc:respPersons",
                                "dcc:customer",
                                "dcc:usedMethod",
                                "dcc:influenceCondition",
                                "dcc:results",
                                "dcc:data",
                                "si:valueXMLList",
                                "si:unitXMLList",
                                "si:valueExpandedMUXMLList",
                                "si:coverageFactorXMLList",
                                "si:coverageProbabilityXMLList"}) {
        INFO(element);
        // The only child of a list: removing the first of several would leave a valid list.
        std::string changed = without(whole, element);
        if (std::string(element) == "dcc:usedMethod") changed = without(changed, element);
        if (std::string(element) == "dcc:influenceCondition")
            for (int i = 0; i < 3; ++i) changed = without(changed, element);
        CHECK_FALSE(is_valid("lacking", changed));
    }
}

TEST_CASE("the values of the DCC are the record's, rounded as on the certificate") {
    for (const auto& sample : test::sample_certificates()) {
        if (sample.as_found || sample.record.number == "DRAFT") continue;
        const std::string xml = dcc_of(sample);
        const auto& steps = sample.record.evaluation.steps;
        const std::string error = "refType=\"basic_measurementError\"";
        const auto values = numbers(xml, error, "si:valueXMLList");
        const auto U = numbers(xml, error, "si:valueExpandedMUXMLList");
        const auto k = numbers(xml, error, "si:coverageFactorXMLList");
        REQUIRE(values.size() == steps.size());
        REQUIRE(U.size() == steps.size());
        REQUIRE(k.size() == steps.size());
        CHECK(numbers(xml, error, "si:coverageProbabilityXMLList") == std::vector<double>{0.95});
        for (std::size_t i = 0; i < steps.size(); ++i) {
            // Two figures of U: half a unit of the second is at most a twentieth of U.
            const double unit = steps[i].error_expanded.U / 10;
            CHECK(values[i] == Approx(steps[i].error_percent.value).margin(0.5 * unit + 1e-12));
            CHECK(U[i] >= 0.95 * steps[i].error_expanded.U);
            CHECK(U[i] <= steps[i].error_expanded.U + unit);
            CHECK(k[i] == Approx(steps[i].error_expanded.k).margin(0.00501));
        }
        if (!steps.front().reference_intensity_mm_h) {
            CHECK(xml.find("basic_referenceValue") == std::string::npos);
            continue;
        }
        const auto reference = numbers(xml, "refType=\"basic_referenceValue\"", "si:valueXMLList");
        const auto indicated = numbers(xml, "refType=\"basic_measuredValue\"", "si:valueXMLList");
        REQUIRE(reference.size() == steps.size());
        REQUIRE(indicated.size() == steps.size());
        for (std::size_t i = 0; i < steps.size(); ++i) {
            CHECK(reference[i] == Approx(steps[i].reference_intensity_mm_h->value).epsilon(1e-3));
            CHECK(indicated[i] == Approx(*steps[i].indicated_intensity_mm_h).epsilon(1e-5));
            CHECK(100 * (indicated[i] / reference[i] - 1) == Approx(values[i]).margin(0.15));
        }
    }
}

TEST_CASE("every list of a DCC is as long as its fellows") {
    // The schema does not see this.
    const std::string xml = dcc_of(test::sample_certificates()[1]);
    const auto count = [](const std::string& text) {
        std::istringstream in(text);
        std::size_t n = 0;
        for (std::string word; in >> word;) ++n;
        return n;
    };
    const std::regex list("<si:(valueXMLList|valueExpandedMUXMLList|coverageFactorXMLList)>([^<]*)<");
    std::size_t expected = 0;
    std::size_t lists = 0;
    for (std::sregex_iterator it(xml.begin(), xml.end(), list), end; it != end; ++it) {
        const std::size_t n = count((*it)[2]);
        if ((*it)[1] == "valueXMLList")
            expected = n;
        else
            CHECK(n == expected);
        ++lists;
    }
    CHECK(lists > 20);
    std::smatch verdicts;
    REQUIRE(std::regex_search(xml, verdicts, std::regex("<dcc:conformityXMLList>([^<]*)<")));
    CHECK(count(verdicts[1]) == 12);
    CHECK(verdicts[1].str().find("conditionalFail") != std::string::npos);
}

TEST_CASE("references within a DCC lead somewhere, and ids are unique") {
    for (const auto& sample : test::sample_certificates()) {
        if (sample.record.number == "DRAFT") continue;
        check_references(dcc_of(sample));
    }
}

TEST_CASE("verdicts of single steps refer to limits and rule that stand there, where the whole has none") {
    for (const std::string language : {"en", "de", "fr", "es"}) {
        INFO(language);
        auto sample = test::sample_certificates()[0];
        auto& conformity = sample.record.evaluation.conformity;
        conformity.overall = calib::Verdict::not_stated;
        report::state(sample.record);
        const report::DccOptions filter = options(language);
        const std::string xml = dcc_of(sample, filter);
        check_references(xml);
        const std::size_t from = xml.find("<dcc:statement id=\"conformity\"");
        REQUIRE(from != std::string::npos);
        const std::string statement = xml.substr(from, xml.find("</dcc:statement>", from) - from);
        CHECK(statement.find(filter.words.named("translated", conformity.limits.name,
                                                conformity.limits.name)) != std::string::npos);
        CHECK(statement.find(filter.words.text("reservation.no_verdict")) != std::string::npos);
        CHECK(statement.find("<dcc:conformity>") == std::string::npos);
        if (have_validator()) CHECK(is_valid("no_verdict_" + language, xml));
    }
}

TEST_CASE("where others measured is not said to have been a laboratory") {
    auto sample = test::sample_certificates()[0];
    CHECK(dcc_of(sample).find("<dcc:performanceLocation>laboratory<") != std::string::npos);
    sample.record.origin = report::Origin::supplied_data;
    report::state(sample.record);
    const std::string xml = dcc_of(sample);
    CHECK(xml.find("<dcc:performanceLocation>other<") != std::string::npos);
    if (have_validator()) CHECK(is_valid("supplied_place", xml));
}

TEST_CASE("a DCC states traceability and the service of the gauge as the paper does") {
    for (const std::string language : {"en", "de", "fr", "es"}) {
        INFO(language);
        const auto sample = test::sample_certificates()[0];
        report::DccOptions filter = options(language);
        filter.work = report::certificate::work_words(
            filter.words, {report::ServiceWork{"2026-03-03", "", "cleaned", 0.25, -0.25}});
        REQUIRE(filter.work.size() == 1);
        const std::string xml = dcc_of(sample, filter);
        const std::string traced = report::certificate::traceability_words(filter.words, sample.record);
        CHECK_FALSE(traced.empty());
        CHECK(xml.find(traced) != std::string::npos);
        CHECK(xml.find(filter.work.front()) != std::string::npos);
        if (have_validator()) CHECK(is_valid("service_" + language, xml));
    }
}

TEST_CASE("before and after adjustment are told apart") {
    for (const auto& sample : test::sample_certificates()) {
        if (!sample.as_found) continue;
        const std::string xml = dcc_of(sample);
        const std::size_t before = xml.find("<dcc:status>beforeAdjustment<");
        const std::size_t after = xml.find("<dcc:status>afterAdjustment<");
        CHECK(before != std::string::npos);
        CHECK(after != std::string::npos);
        CHECK(before < after);
    }
}

TEST_CASE("limits at some steps only give a verdict for those steps") {
    auto sample = test::sample_certificates()[0];
    sample.record.evaluation.conformity.steps[1].verdict = calib::Verdict::no_limit;
    const std::string xml = dcc_of(sample);
    CHECK(xml.find("conformityXMLList") == std::string::npos);
    const std::regex entry("<dcc:metaData ");
    CHECK(std::distance(std::sregex_iterator(xml.begin(), xml.end(), entry), std::sregex_iterator()) == 2);
    if (have_validator()) CHECK(is_valid("some_limits", xml));
}

TEST_CASE("a DCC whose verdicts stand with reservation is valid, at all steps and at some") {
    auto sample = test::sample_certificates()[0];
    auto& conformity = sample.record.evaluation.conformity;
    conformity.limits.confirmed = false;
    report::state(sample.record);
    const std::string all = dcc_of(sample);
    CHECK(all.find("<dcc:declaration>", all.find("<dcc:metaData ")) < all.find("</dcc:metaData>"));
    conformity.steps[1].verdict = calib::Verdict::no_limit;
    report::state(sample.record);
    const std::string some = dcc_of(sample);
    CHECK(some.find("<dcc:declaration>", some.find("<dcc:metaData ")) < some.find("</dcc:metaData>"));
    if (!have_validator()) return;
    CHECK(is_valid("reserved", all));
    CHECK(is_valid("reserved_some", some));
}

TEST_CASE("a fact the DCC asks for and the record lacks is named") {
    const auto fault_of = [](const report::Record& record, const report::DccOptions& filter = options()) {
        const auto xml = report::dcc_xml(record, filter);
        REQUIRE_FALSE(xml.ok());
        return xml.fault();
    };
    report::Record record = test::sample_record();
    record.identity.serial = " ";
    CHECK(fault_of(record).where.find("$.identity.serial") != std::string::npos);
    record = test::sample_record();
    record.started_at = "";
    CHECK(fault_of(record).code == FaultCode::missing_field);
    record.started_at = "2026-02-30T00:00:00Z";
    CHECK(fault_of(record).code == FaultCode::missing_field);
    record.started_at = "2026-04-01T00:00:00Z";
    CHECK(fault_of(record).line().find("ended before it began") != std::string::npos);
    record = test::sample_record();
    record.authorised_by = record.operator_name = "";
    CHECK(fault_of(record).code == FaultCode::missing_field);
    record = test::sample_record();
    record.evaluation.steps.clear();
    CHECK(fault_of(record).code == FaultCode::inconsistent);
    record = test::sample_record();
    record.evaluation.steps[0].error_expanded.k = 0.7;
    CHECK(fault_of(record).code == FaultCode::bad_value);

    report::DccOptions filter = options();
    filter.country = "Norway";
    CHECK(fault_of(test::sample_record(), filter).code == FaultCode::bad_value);
    filter = options();
    filter.place_kind = "garden";
    CHECK(fault_of(test::sample_record(), filter).code == FaultCode::bad_value);
}

TEST_CASE("text from outside cannot break out of its element") {
    using report::dcc::xml_escaped;
    CHECK(xml_escaped("a<b>&\"c") == "a&lt;b&gt;&amp;&quot;c");
    CHECK(xml_escaped(std::string("nul\0bell\a", 9)) ==
          "nul\xEF\xBF\xBD"
          "bell\xEF\xBF\xBD");
    CHECK(xml_escaped("\xff") == "\xEF\xBF\xBD");
    auto sample = test::sample_certificates()[0];
    sample.record.customer.name = "</dcc:name><x>&\x01";
    sample.record.identity.serial = "  A&B<1>  ";
    const std::string xml = dcc_of(sample);
    CHECK(xml.find("<dcc:value>A&amp;B&lt;1&gt;</dcc:value>") != std::string::npos);
    if (have_validator()) CHECK(is_valid("hostile", xml));
}
