#include "bench/program/register/earlier.hpp"

#include <algorithm>
#include <utility>

#include "bench/program/register/between.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/seal/seal.hpp"

namespace tipwright::program {

namespace {

bool is_in_a_number(char c) {
    return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
}

std::string without_blanks(std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        // Such as a language puts before its colon.
        std::size_t no_break = 0;
        for (const std::string_view blank : {"\u00A0", "\u202F"})
            if (text.substr(i).starts_with(blank)) no_break = blank.size();
        if (no_break > 0)
            i += no_break - 1;
        else if (text[i] != ' ' && text[i] != '\n')
            out += text[i];
    }
    return out;
}

std::optional<Earlier> earlier_in_text(std::string_view text, const EarlierPhrase& phrase) {
    for (std::size_t at = text.find(phrase.before); at != std::string_view::npos;
         at = text.find(phrase.before, at + 1)) {
        const std::string_view from = text.substr(at + phrase.before.size());
        const auto end = std::find_if_not(from.begin(), from.end(), is_in_a_number);
        const std::string_view number = from.substr(0, static_cast<std::size_t>(end - from.begin()));
        if (seal::is_certificate_number(number) && from.substr(number.size()).starts_with(phrase.after))
            return Earlier{std::string(number), phrase.amended};
    }
    return std::nullopt;
}

}  // namespace

std::vector<EarlierPhrase> earlier_phrases(const std::vector<report::certificate::Words>& languages) {
    std::vector<EarlierPhrase> out;
    constexpr std::string_view number = "{number}";
    for (const auto& words : languages)
        for (const auto& [key, amended] :
             {std::pair("front.replaces", false), std::pair("front.amends", true)}) {
            const std::string& text = words.text(key);
            const std::size_t at = text.find(number);
            if (at == std::string::npos || at == 0) continue;
            const std::string after = text.substr(at + number.size());
            out.push_back({amended, without_blanks(text.substr(0, at)),
                           without_blanks(std::string_view(after).substr(0, after.find('{')))});
        }
    return out;
}

std::optional<Earlier> earlier_in_pdf(std::string_view pdf, const std::string& name,
                                      const std::vector<EarlierPhrase>& phrases) {
    const auto pages = report::printed_text(pdf, name);
    if (!pages || pages->empty()) return std::nullopt;
    std::string text;
    for (const std::string& run : pages->front()) text += without_blanks(run);
    for (const EarlierPhrase& phrase : phrases)
        if (auto found = earlier_in_text(text, phrase)) return found;
    return std::nullopt;
}

std::optional<Earlier> earlier_in_xml(std::string_view xml) {
    // Before the certificate that it carries.
    const std::string_view said =
        between(xml, "<dcc:reportAmendedSubstituted>", "</dcc:reportAmendedSubstituted>");
    const std::string number(between(said, "<dcc:replacedUniqueIdentifier>", "<"));
    if (!seal::is_certificate_number(number)) return std::nullopt;
    return Earlier{number, between(said, "<dcc:typeOfChange>", "<") == "amended"};
}

}  // namespace tipwright::program
