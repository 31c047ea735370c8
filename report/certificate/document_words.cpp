#include "report/certificate/document_words.hpp"

namespace tipwright::report::certificate {

Party issuer_of(const Record& record, const std::string& letterhead_laboratory) {
    const bool others = record.origin == Origin::supplied_data;
    if (!others && !record.laboratory.name.empty()) return record.laboratory;
    return {letterhead_laboratory, "", ""};
}

namespace {

using calib::DocumentKind;

std::string key_of(const Record& record, const std::string& begin) {
    return begin + std::string(calib::document_names.at(static_cast<std::size_t>(record.statement.document)));
}

bool is_calibration(const Record& record) {
    return record.statement.document == DocumentKind::calibration_certificate;
}

}  // namespace

std::string document_title(const Words& words, const Record& record) {
    return words.text(key_of(record, "document."));
}

std::string document_number_label(const Words& words, const Record& record) {
    return words.text(key_of(record, "document.number_"));
}

const std::string& document_number(const Words& words, const Record& record) {
    return record.number == "DRAFT" ? words.text("mark.short_draft") : record.number;
}

std::string document_name(const Words& words, const Record& record) {
    return words.text("page.head", {{"document", document_title(words, record)},
                                    {"number", document_number(words, record)}});
}

std::string document_end(const Words& words, const Record& record) {
    return words.text(key_of(record, "document.end_"), {{"number", document_number(words, record)}});
}

std::string no_certificate_sentence(const Words& words, const Record& record) {
    if (is_calibration(record)) return {};
    return words.text("document.no_certificate", {{"document", document_title(words, record)}});
}

const std::string& by_compartments(const Words& words, const Record& record, std::string_view key) {
    return words.text(std::string(key) + (record.gauge.compartments == 1 ? "_single" : ""));
}

const std::string& by_document(const Words& words, const Record& record, std::string_view key) {
    return words.text(std::string(key) + (is_calibration(record) ? "" : "_measured"));
}

const std::string& performed_by_label(const Words& words, const Record& record) {
    return words.text(is_calibration(record) ? "closing.performed" : key_of(record, "closing.performed_"));
}

}  // namespace tipwright::report::certificate
