#include "report/dcc/dcc.hpp"

#include <algorithm>
#include <array>

#include "report/dcc/parts.hpp"
#include "report/record/record_checks.hpp"
#include "report/record/statement_of.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {

namespace {

Fault lacking(const Record& record, const std::string& path, const std::string& what) {
    return {FaultCode::missing_field, "a DCC needs " + what, "record " + visible(record.number) + ": " + path,
            "give it before the certificate is issued"};
}

std::optional<Fault> check_facts(const Record& record) {
    if (auto fault = check_results(record)) return fault;
    if (auto fault = check_some_stated(record)) return fault;
    if (dcc::trimmed(record.number).empty()) return lacking(record, "$.number", "a certificate number");
    if (dcc::trimmed(record.identity.serial).empty())
        return lacking(record, "$.identity.serial", "the serial number of the gauge");
    if (!begins_with_date(record.started_at))
        return lacking(record, "$.started_at", "the date of the calibration");
    if (!begins_with_date(record.ended_at))
        return lacking(record, "$.ended_at", "the date of the calibration");
    if (record.ended_at.substr(0, 10) < record.started_at.substr(0, 10))
        return Fault{FaultCode::inconsistent, "the calibration ended before it began",
                     "record " + visible(record.number), "correct the dates"};
    if (dcc::trimmed(record.authorised_by).empty() && dcc::trimmed(record.operator_name).empty())
        return lacking(record, "$.authorised_by", "a person, who calibrated or who authorised");
    // D-SI 2.2.1 allows no coverage factor below 1.
    for (const calib::StepResult& step : record.evaluation.steps)
        if (!(step.error_expanded.k >= 1))
            return Fault{FaultCode::bad_value, "a DCC allows no coverage factor below 1",
                         step.observation.name(), "ask for a coverage probability of 0.95 or the like"};
    return std::nullopt;
}

std::optional<Fault> check_options(const DccOptions& options) {
    const std::string& country = options.country;
    const auto upper = [](char c) { return c >= 'A' && c <= 'Z'; };
    if (country.size() != 2 || !std::all_of(country.begin(), country.end(), upper))
        return Fault{FaultCode::bad_value, in_quotes(country) + " is not a country code",
                     "laboratory's country", "give two capital letters after ISO 3166-1, for example NO"};
    constexpr std::array<std::string_view, 5> places{"laboratory", "customer", "laboratoryBranch",
                                                     "customerBranch", "other"};
    if (!options.place_kind.empty() &&
        std::find(places.begin(), places.end(), options.place_kind) == places.end())
        return Fault{FaultCode::bad_value, in_quotes(options.place_kind) + " is not a kind of place",
                     "place of the work",
                     "give laboratory, customer, laboratoryBranch, customerBranch or other"};
    if (options.replaces &&
        (dcc::trimmed(options.replaces->number).empty() || options.replaces->sha256.size() != 64))
        return Fault{FaultCode::missing_field, "number and SHA-256 of the replaced certificate are needed",
                     "replaced certificate", "give both"};
    return std::nullopt;
}

}  // namespace

Result<std::string> dcc_xml(const Record& whole, const DccOptions& wanted) {
    if (auto fault = check_options(wanted)) return *fault;
    if (auto fault = check_facts(whole)) return *fault;
    DccOptions options = wanted;
    if (options.as_found) {
        if (auto fault = check_facts(*options.as_found)) return *fault;
        if (auto fault = check_pair(whole, *options.as_found)) return *fault;
        options.as_found = as_stated(*options.as_found);
    }
    const Record record = as_stated(whole);
    dcc::XmlWriter xml;
    dcc::Writer writer{xml, options};
    xml.open("dcc:digitalCalibrationCertificate",
             {{"xmlns:xsi", "http://www.w3.org/2001/XMLSchema-instance"},
              {"xmlns:dcc", "https://ptb.de/dcc"},
              {"xmlns:si", "https://ptb.de/si"},
              {"xsi:schemaLocation", "https://ptb.de/dcc https://ptb.de/dcc/v3.3.0/dcc.xsd"},
              {"schemaVersion", "3.3.0"}});
    dcc::write_administrative_data(writer, record);
    dcc::write_measurement_results(writer, record);
    if (!options.pdf.empty()) {
        xml.open("dcc:document");
        xml.text("dcc:fileName", dcc::trimmed(options.pdf_name));
        xml.text("dcc:mimeType", "application/pdf");
        xml.text("dcc:dataBase64", seal::to_base64(options.pdf));
        xml.close();
    }
    xml.close();
    return xml.xml();
}

}  // namespace tipwright::report
