// The text of a PDF as its pages' content streams hold it, in drawing order: for tests that must not depend
// on how a reader program arranges lines. Knows the strings libharu writes (UTF-16, big-endian, hexadecimal).
#pragma once

// The smart pointers of the standard library only (see qpdf/PointerHolder.hh).
#define POINTERHOLDER_TRANSITION 4
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <qpdf/QPDFPageObjectHelper.hh>

#include <string>
#include <string_view>
#include <vector>

#include "report/utf8.hpp"

namespace tipwright::test {

class TextCollector : public QPDFObjectHandle::ParserCallbacks {
public:
    std::vector<std::string> runs;

    void handleObject(QPDFObjectHandle object, size_t, size_t) override {
        if (object.isString()) {
            last_ = object.getStringValue();
        } else if (object.isOperator() &&
                   (object.getOperatorValue() == "Tj" || object.getOperatorValue() == "'")) {
            std::string text;
            for (std::size_t i = 0; i + 1 < last_.size(); i += 2)
                report::append_utf8(text, static_cast<char32_t>(static_cast<unsigned char>(last_[i]) << 8 |
                                                                static_cast<unsigned char>(last_[i + 1])));
            runs.push_back(text);
        }
    }
    void handleEOF() override {}

private:
    std::string last_;
};

// One vector of text runs for each page.
inline std::vector<std::vector<std::string>> pdf_text(std::string_view bytes) {
    QPDF pdf;
    pdf.setSuppressWarnings(true);
    pdf.processMemoryFile("certificate", bytes.data(), bytes.size());
    std::vector<std::vector<std::string>> pages;
    for (auto& page : QPDFPageDocumentHelper(pdf).getAllPages()) {
        TextCollector collector;
        page.parseContents(&collector);
        pages.push_back(std::move(collector.runs));
    }
    return pages;
}

// All runs joined by blanks, so that a sentence broken over lines is found.
inline std::string joined_text(std::string_view bytes) {
    std::string out;
    for (const auto& page : pdf_text(bytes))
        for (const std::string& run : page) out += run + " ";
    return out;
}

}  // namespace tipwright::test
