// PageWords: the page's texts in one language (templates/page/en.toml), beside the certificate's words for
// findings, numbers and dates. The English file says which texts there are and with which {placeholders}; any
// other must have the same.
#pragma once

#include <filesystem>
#include <functional>
#include <initializer_list>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/certificate/words.hpp"

namespace tipwright::page {

// "2026-11-26T08:00:00Z" as "2026-11-26 09:00:00 CET".
using LocalMoment = std::function<std::string(const std::string& utc)>;
// An intensity in mm/h as "3.937 in/h"; empty: no other unit is wanted beside mm/h.
using OtherUnit = std::function<std::string(double mm_h)>;

class PageWords {
public:
    using Fillings = std::initializer_list<std::pair<std::string_view, std::string>>;

    // Throws std::out_of_range for a key that the English file lacks.
    const std::string& text(std::string_view key) const;
    std::string text(std::string_view key, Fillings fillings) const {
        return filled(key, {fillings.begin(), fillings.size()});
    }
    std::string filled(std::string_view key,
                       std::span<const std::pair<std::string_view, std::string>> fillings) const;
    // Null: there is no such text.
    const std::string* find(std::string_view key) const;
    const report::certificate::Words& certificate() const { return certificate_; }
    const std::string& language() const { return language_; }
    // Of a kind, a plan or limits, as its file has it: what it is called in this language.
    std::string title(const std::string& text) const { return certificate_.named("translated", text, text); }
    // "−3.50": rounded once, with the language's signs.
    std::string number(double value, int decimals) const;
    // "−3.50 ± 0.12": in the digits that U earns.
    std::string with_U(double value, double U) const;
    // A moment with the name of its zone: UTC, unless another way to show it was given.
    std::string moment(const std::string& utc) const;
    // "100.0", with what stands for it in another unit before it where one is wanted ("3.937 in/h · 100.0"):
    // "mm/h" follows.
    std::string intensity(double mm_h, int decimals) const;
    void show_by(LocalMoment local, OtherUnit other) {
        local_ = std::move(local);
        other_unit_ = std::move(other);
    }
    // "1:04:09"; hours and minutes alone from an hour on.
    std::string duration(double seconds) const;

private:
    friend Result<std::vector<PageWords>> load_page_words(const std::filesystem::path& templates);
    std::string language_;
    std::map<std::string, std::string, std::less<>> texts_;
    report::certificate::Words certificate_;
    LocalMoment local_;
    OtherUnit other_unit_;
};

inline constexpr std::string_view page_languages[] = {"en", "de", "fr", "es"};

// In the order of page_languages. Faults: those of reading; missing_field, unknown_field, bad_value (a
// placeholder that the English text lacks, or one too few).
Result<std::vector<PageWords>> load_page_words(const std::filesystem::path& templates);

}  // namespace tipwright::page
