// The text of a certificate in drawing order: for tests that must not depend on how a reader program arranges
// lines.
#pragma once

#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "report/record/certificate_reader.hpp"

namespace tipwright::test {

// One vector of text runs for each page.
inline std::vector<std::vector<std::string>> pdf_text(std::string_view bytes) {
    auto pages = report::printed_text(bytes, "certificate");
    if (!pages) throw std::runtime_error(pages.fault().line());
    // Lines end with the blank at which they were cut.
    for (auto& page : *pages)
        for (std::string& run : page)
            if (run.size() > 1 && run.back() == ' ') run.pop_back();
    return *pages;
}

// All runs joined by blanks, so that a sentence broken over lines is found.
inline std::string joined_text(std::string_view bytes) {
    std::string out;
    for (const auto& page : pdf_text(bytes))
        for (const std::string& run : page) out += run + " ";
    return out;
}

}  // namespace tipwright::test
