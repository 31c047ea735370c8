// What a paper and its DCC say, for tests that look for words in both, in every language.
#pragma once

#include <catch2/catch.hpp>

#include <string>

#include "report/dcc/dcc.hpp"
#include "tests/report/sample_certificates.hpp"
#include "tests/support/paths.hpp"

namespace tipwright::test {

inline const char* const languages[] = {"en", "de", "fr", "es"};

inline report::certificate::Words words_of(const std::string& language) {
    return sample_words(source_dir(), language);
}

// In small letters, each run of blanks as one: sentences are wrapped.
inline std::string plain(const std::string& text) {
    std::string out;
    for (const char c : text) {
        const bool blank = c == ' ' || c == '\n';
        if (blank && (out.empty() || out.back() == ' ')) continue;
        out += blank ? ' ' : static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    }
    return out;
}

inline std::string dcc_of(const report::Record& record, const report::certificate::Words& words) {
    report::DccOptions options;
    options.words = words;
    options.country = "ZZ";
    const auto xml = report::dcc_xml(record, options);
    REQUIRE(xml);
    return *xml;
}

}  // namespace tipwright::test
