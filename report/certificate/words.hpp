// Words: the texts, number signs and dates of a certificate in one language, from a TOML file
// (templates/certificate/en.toml). Texts have {placeholders}; every key is required and may use only the
// placeholders listed for it, so that a translation cannot lose or invent a fact unseen.
#pragma once

#include <filesystem>
#include <initializer_list>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report::certificate {

struct WordKey {
    std::string_view key;           // "summary.pass"
    std::string_view placeholders;  // "limits where", blank between
};

// Every text a words file must have.
std::span<const WordKey> word_keys();

class Words {
public:
    using Fillings = std::initializer_list<std::pair<std::string_view, std::string>>;

    // The text of a key; throws std::out_of_range for one that is not in word_keys().
    const std::string& text(std::string_view key) const;
    std::string text(std::string_view key, Fillings fillings) const;
    using FillingList = std::vector<std::pair<std::string, std::string>>;
    std::string filled(std::string_view key, const FillingList& fillings) const;
    // From the tables that may have any key, [role] and [component]; else the fallback.
    std::string named(std::string_view table, std::string_view key, const std::string& fallback) const;

    const std::string& language() const { return text("format.language"); }
    char decimal_sign() const { return text("format.decimal_sign")[0]; }
    // "-3.50" as the language writes it: its decimal sign, and a true minus.
    std::string number(std::string_view plain) const;
    // "2026-03-02" and "2026-03-02T08:14:00Z" in words; anything else is given back as it is.
    std::string date(const std::string& iso) const;
    std::string short_date(const std::string& iso) const;  // in figures, for tables
    std::string moment(const std::string& iso) const;
    // "a, b and c".
    std::string list(const std::vector<std::string>& items) const;

    // Calls use(text) for each there is.
    template <class Use>
    void each(Use use) const {
        for (const auto& [key, text] : texts_) use(text);
        for (const std::string& month : months_) use(month);
    }

private:
    friend Result<Words> parse_words(std::string_view text, const std::string& name);
    std::map<std::string, std::string, std::less<>> texts_;
    std::vector<std::string> months_;
};

// For a text that goes into a sentence.
std::string without_full_stop(std::string text);

// Faults: syntax, missing_field, unknown_field, bad_value with file:line:column; file_missing,
// file_too_large.
Result<Words> parse_words(std::string_view text, const std::string& name);
Result<Words> load_words(const std::filesystem::path& file);

}  // namespace tipwright::report::certificate
