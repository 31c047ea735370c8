#include "report/register/persons.hpp"

#include <unicode/locid.h>
#include <unicode/normalizer2.h>
#include <unicode/uchar.h>
#include <unicode/unistr.h>
#include <unicode/uspoof.h>

#include <algorithm>
#include <memory>
#include <vector>

namespace tipwright::report {
namespace {

using Checker = std::unique_ptr<USpoofChecker, void (*)(USpoofChecker*)>;

Checker open_checker() {
    UErrorCode status = U_ZERO_ERROR;
    Checker out(uspoof_open(&status), uspoof_close);
    return U_SUCCESS(status) ? std::move(out) : Checker(nullptr, uspoof_close);
}

std::string utf8(const icu::UnicodeString& text) {
    std::string out;
    text.toUTF8String(out);
    return out;
}

icu::UnicodeString text_of(std::string_view utf8_text) {
    return icu::UnicodeString::fromUTF8(
        icu::StringPiece(utf8_text.data(), static_cast<int>(utf8_text.size())));
}

icu::UnicodeString normalized(const icu::UnicodeString& text, const icu::Normalizer2* (*form)(UErrorCode&)) {
    UErrorCode status = U_ZERO_ERROR;
    const icu::Normalizer2* normalizer = form(status);
    if (U_FAILURE(status)) return text;
    icu::UnicodeString out = normalizer->normalize(text, status);
    return U_SUCCESS(status) ? out : text;
}

icu::UnicodeString folded(std::string_view name) {
    return normalized(text_of(name),
                      [](UErrorCode& status) { return icu::Normalizer2::getNFKCCasefoldInstance(status); });
}

icu::UnicodeString capitals(std::string_view name) {
    icu::UnicodeString out = folded(name);
    return out.toUpper(icu::Locale::getRoot());
}

bool is_mark(UChar32 c) {
    return (U_GET_GC_MASK(c) & U_GC_M_MASK) != 0;
}

// The words of a name: runs of letters, marks and digits.
std::vector<icu::UnicodeString> words_of(const icu::UnicodeString& text) {
    std::vector<icu::UnicodeString> out;
    bool inside = false;
    for (int32_t i = 0; i < text.length(); i = text.moveIndex32(i, 1)) {
        const UChar32 c = text.char32At(i);
        const bool part = u_isalnum(c) || is_mark(c);
        if (part && !inside) out.emplace_back();
        if (part) out.back().append(c);
        inside = part;
    }
    return out;
}

// Letters whose stroke is no accent to Unicode.
UChar32 without_stroke(UChar32 c) {
    switch (c) {
        case U'ø':
            return U'o';
        case U'Ø':
            return U'O';
        case U'ł':
            return U'l';
        case U'Ł':
            return U'L';
        case U'đ':
            return U'd';
        case U'Đ':
            return U'D';
        case U'ħ':
            return U'h';
        case U'Ħ':
            return U'H';
        case U'ŧ':
            return U't';
        case U'Ŧ':
            return U'T';
        case U'ı':
            return U'i';
        default:
            return c;
    }
}

// How a word looks: letters that are easily taken for one another as one, without accents.
std::string look_of(const icu::UnicodeString& word) {
    static const Checker checker = open_checker();
    icu::UnicodeString plain;
    const icu::UnicodeString taken_apart =
        normalized(word, [](UErrorCode& status) { return icu::Normalizer2::getNFDInstance(status); });
    for (int32_t i = 0; i < taken_apart.length(); i = taken_apart.moveIndex32(i, 1))
        if (const UChar32 c = taken_apart.char32At(i); !is_mark(c)) plain.append(without_stroke(c));
    if (!checker) return utf8(plain);
    UErrorCode status = U_ZERO_ERROR;
    icu::UnicodeString out;
    uspoof_getSkeletonUnicodeString(checker.get(), 0, plain, out, &status);
    return utf8(U_SUCCESS(status) ? out : plain);
}

struct Word {
    std::string look;
    bool initial = false;  // one letter
};

std::vector<Word> looks_of(const icu::UnicodeString& name) {
    std::vector<Word> out;
    for (const icu::UnicodeString& word : words_of(name))
        out.push_back({look_of(word), normalized(word, [](UErrorCode& status) {
                                          return icu::Normalizer2::getNFCInstance(status);
                                      }).countChar32() == 1});
    return out;
}

// Whatever stands between the words.
std::string run_of(const std::vector<Word>& words) {
    std::string out;
    for (const Word& word : words) out += word.look;
    return out;
}

// Written together or apart, in any order.
bool look_alike(const icu::UnicodeString& a, const icu::UnicodeString& b) {
    std::vector<Word> first = looks_of(a);
    std::vector<Word> second = looks_of(b);
    if (run_of(first) == run_of(second)) return true;
    const auto by_look = [](const Word& x, const Word& y) { return x.look < y.look; };
    std::sort(first.begin(), first.end(), by_look);
    std::sort(second.begin(), second.end(), by_look);
    return std::equal(first.begin(), first.end(), second.begin(), second.end(),
                      [](const Word& x, const Word& y) { return x.look == y.look; });
}

// Every word of `few` is one of `many` or stands for it as an initial, and at least one is the same whole
// word.
bool short_for(const std::vector<Word>& few, std::vector<Word> many) {
    bool whole_word = false;
    for (const bool initials : {false, true})
        for (const Word& word : few) {
            if (word.initial != initials) continue;
            const auto found = std::find_if(many.begin(), many.end(), [&](const Word& other) {
                if (word.initial) return other.look.starts_with(word.look);
                return other.look == word.look || (other.initial && word.look.starts_with(other.look));
            });
            if (found == many.end()) return false;
            whole_word = whole_word || (!word.initial && !found->initial);
            many.erase(found);
        }
    return whole_word;
}

}  // namespace

std::string person_key(std::string_view name) {
    std::string out;
    for (const icu::UnicodeString& word : words_of(folded(name))) out += utf8(word);
    return out;
}

bool looks_like(std::string_view a, std::string_view b) {
    // As typed, in small letters and in capitals: a capital I looks like a small l, a small i does not; a
    // nought looks like a capital O, a one like a capital I.
    if (const std::string key = person_key(a); !key.empty() && key == person_key(b)) return true;
    return look_alike(folded(a), folded(b)) || look_alike(text_of(a), text_of(b)) ||
           look_alike(capitals(a), capitals(b));
}

bool may_be_same_person(std::string_view a, std::string_view b) {
    if (looks_like(a, b)) return true;
    const std::vector<Word> first = looks_of(folded(a));
    const std::vector<Word> second = looks_of(folded(b));
    return short_for(first, second) || short_for(second, first);
}

std::optional<Fault> unreadable_name(std::string_view name) {
    const auto refuse = [&](const char* why) {
        return Fault{FaultCode::bad_value, in_quotes(name) + " " + why, "person",
                     "write the name in the letters of one script"};
    };
    const icu::UnicodeString text = text_of(name);
    for (int32_t i = 0; i < text.length(); i = text.moveIndex32(i, 1)) {
        const UChar32 c = text.char32At(i);
        if (u_hasBinaryProperty(c, UCHAR_DEFAULT_IGNORABLE_CODE_POINT) || u_charType(c) == U_CONTROL_CHAR ||
            u_charType(c) == U_FORMAT_CHAR || u_charType(c) == U_PRIVATE_USE_CHAR ||
            u_charType(c) == U_UNASSIGNED)
            return refuse("holds a character that does not show");
    }
    if (person_key(name).empty()) return refuse("has no letter");
    const Checker checker = open_checker();
    if (!checker) return refuse("could not be checked");
    UErrorCode status = U_ZERO_ERROR;
    uspoof_setChecks(checker.get(), USPOOF_RESTRICTION_LEVEL | USPOOF_MIXED_NUMBERS, &status);
    uspoof_setRestrictionLevel(checker.get(), USPOOF_HIGHLY_RESTRICTIVE);
    // Initials and hyphens are no part of identifiers; only the letters are held against one another.
    icu::UnicodeString letters;
    for (const icu::UnicodeString& word : words_of(text)) letters.append(word);
    const int32_t found = uspoof_check2UnicodeString(checker.get(), letters, nullptr, &status);
    if (U_FAILURE(status)) return refuse("could not be checked");
    if (found != 0) return refuse("mixes letters of several scripts, which look alike");
    return std::nullopt;
}

}  // namespace tipwright::report
