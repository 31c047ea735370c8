#include "report/dcc/parts.hpp"

#include "calib/base/ascii.hpp"
#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/text_block.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report::dcc {

std::string trimmed(std::string_view text) {
    return std::string(tipwright::trimmed(text, " \t\r\n"));
}

std::string reserved_words(const Writer& writer, const Record& record) {
    std::string out = writer.words().text("reservation.heading");
    for (const std::string& sentence : certificate::reservation_sentences(writer.words(), record))
        out += " " + sentence;
    return out;
}

void Writer::name(std::string_view element, const std::string& text) {
    xml.open(element);
    xml.text("dcc:content", certificate::without_marks(text), {{"lang", language()}});
    xml.close();
}

void Writer::foreign(std::string_view element, const std::string& text) {
    xml.open(element);
    xml.text("dcc:content", text);
    xml.close();
}

void Writer::line(std::string_view element, const std::string& text) {
    const std::string inner = trimmed(text);
    if (!inner.empty()) xml.text(element, inner);
}

void add(Column& column, double value, const calib::Expanded& expanded, std::optional<int> decimals) {
    const calib::RoundedPair pair = decimals ? calib::round_to_decimals(value, expanded.U, *decimals)
                                             : calib::round_with_uncertainty(value, expanded.U);
    column.values.push_back(pair.value);
    column.U.push_back(pair.uncertainty);
    column.k.push_back(calib::fixed(expanded.k, 2));
    column.coverage = significant(expanded.coverage, 6);
}

void write_list(Writer& writer, const Column& column) {
    XmlWriter& xml = writer.xml;
    xml.open("si:realListXMLList");
    xml.text("si:valueXMLList", joined(column.values, " "));
    xml.text("si:unitXMLList", column.unit);
    if (!column.U.empty()) {
        xml.open("si:measurementUncertaintyUnivariateXMLList");
        xml.open("si:expandedMUXMLList");
        xml.text("si:valueExpandedMUXMLList", joined(column.U, " "));
        xml.text("si:coverageFactorXMLList", joined(column.k, " "));
        xml.text("si:coverageProbabilityXMLList", column.coverage);
        xml.close();
        xml.close();
    }
    xml.close();
}

void write_quantity(Writer& writer, const Column& column) {
    writer.xml.open("dcc:quantity", {{"refType", column.ref_type}});
    writer.name("dcc:name", column.name);
    write_list(writer, column);
    writer.xml.close();
}

void write_real(Writer& writer, std::string_view unit, double value, const calib::Expanded& expanded) {
    const calib::RoundedPair pair = calib::round_with_uncertainty(value, expanded.U);
    XmlWriter& xml = writer.xml;
    xml.open("si:real");
    xml.text("si:value", pair.value);
    xml.text("si:unit", unit);
    xml.open("si:measurementUncertaintyUnivariate");
    xml.open("si:expandedMU");
    xml.text("si:valueExpandedMU", pair.uncertainty);
    xml.text("si:coverageFactor", calib::fixed(expanded.k, 2));
    xml.text("si:coverageProbability", significant(expanded.coverage, 6));
    xml.close();
    xml.close();
    xml.close();
}

std::string verdict_word(const calib::StepConformity& judged, const calib::StepResult& step) {
    const double error = step.error_percent.value;
    switch (judged.verdict) {
        case calib::Verdict::pass:
            return "pass";
        case calib::Verdict::fail:
            return "fail";
        case calib::Verdict::undecided:
        case calib::Verdict::not_stated:
        case calib::Verdict::no_limit:
            break;
    }
    return error >= judged.low_percent && error <= judged.high_percent ? "conditionalPass"
                                                                       : "conditionalFail";
}

}  // namespace tipwright::report::dcc
