#include "report/register/persons.hpp"

#include <unicode/locid.h>
#include <unicode/normalizer2.h>
#include <unicode/uchar.h>
#include <unicode/uniset.h>
#include <unicode/unistr.h>
#include <unicode/uscript.h>
#include <unicode/uspoof.h>

#include <algorithm>
#include <array>
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

icu::UnicodeString as_typed(std::string_view name) {
    return normalized(text_of(name),
                      [](UErrorCode& status) { return icu::Normalizer2::getNFKCInstance(status); });
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

// The letters, marks and digits that names of today are written in (Identifier_Status Allowed, UTS 39), in
// the form that NFKC leaves.
bool is_everyday(UChar32 c) {
    UErrorCode status = U_ZERO_ERROR;
    const icu::UnicodeSet* recommended = uspoof_getRecommendedUnicodeSet(&status);
    return U_SUCCESS(status) && recommended->contains(c) && (u_isalnum(c) || is_mark(c));
}

constexpr UChar32 anything = U'*';

// A sign or a phonetic letter in the middle of a word stands for any letter.
bool stands_for_anything(UChar32 c) {
    if (!u_isalnum(c) && !is_mark(c)) return true;
    UErrorCode status = U_ZERO_ERROR;
    const UScriptCode script = uscript_getScript(c, &status);
    const bool common = script == USCRIPT_LATIN || script == USCRIPT_GREEK || script == USCRIPT_CYRILLIC ||
                        script == USCRIPT_COMMON;
    return common && !is_everyday(c);
}

// As words_of(), but only blanks and punctuation part words.
std::vector<icu::UnicodeString> written_words_of(const icu::UnicodeString& text) {
    constexpr uint32_t apart = U_GC_Z_MASK | U_GC_P_MASK | U_GC_CC_MASK;
    std::vector<icu::UnicodeString> out;
    bool inside = false;
    for (int32_t i = 0; i < text.length(); i = text.moveIndex32(i, 1)) {
        const UChar32 c = text.char32At(i);
        const bool part = (U_GET_GC_MASK(c) & apart) == 0;
        if (part && !inside) out.emplace_back();
        if (part) out.back().append(stands_for_anything(c) ? anything : c);
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

// Letters that are written with two where a keyboard lacks them; nullptr: another letter.
const char16_t* spelled_out(UChar32 c) {
    switch (c) {
        case U'ä':
        case U'Ä':
        case U'æ':
        case U'Æ':
            return u"ae";
        case U'ö':
        case U'Ö':
        case U'ø':
        case U'Ø':
        case U'œ':
        case U'Œ':
            return u"oe";
        case U'ü':
        case U'Ü':
            return u"ue";
        case U'å':
        case U'Å':
            return u"aa";
        case U'ß':
        case U'ẞ':
            return u"ss";
        default:
            return nullptr;
    }
}

icu::UnicodeString spelled_out(const icu::UnicodeString& word) {
    const icu::UnicodeString composed =
        normalized(word, [](UErrorCode& status) { return icu::Normalizer2::getNFCInstance(status); });
    icu::UnicodeString out;
    for (int32_t i = 0; i < composed.length(); i = composed.moveIndex32(i, 1)) {
        const UChar32 c = composed.char32At(i);
        const char16_t* two = spelled_out(c);
        if (two == nullptr) {
            out.append(c);
            continue;
        }
        icu::UnicodeString letters(two);
        out.append(u_isupper(c) ? letters.toUpper(icu::Locale::getRoot()) : letters);
    }
    return out;
}

// How a word looks: letters that are easily taken for one another as one, without accents.
std::string look_of(const icu::UnicodeString& word) {
    static const Checker checker = open_checker();
    icu::UnicodeString plain;
    const icu::UnicodeString taken_apart =
        normalized(word, [](UErrorCode& status) { return icu::Normalizer2::getNFDInstance(status); });
    for (int32_t i = 0; i < taken_apart.length(); i = taken_apart.moveIndex32(i, 1))
        if (const UChar32 c = taken_apart.char32At(i); !is_mark(c)) plain.append(without_stroke(c));
    plain.findAndReplace(u"vv", u"w").findAndReplace(u"VV", u"W");
    if (!checker) return utf8(plain);
    UErrorCode status = U_ZERO_ERROR;
    icu::UnicodeString out;
    uspoof_getSkeletonUnicodeString(checker.get(), 0, plain, out, &status);
    return utf8(U_SUCCESS(status) ? out : plain);
}

struct Word {
    std::string look;
    std::string spelled;   // the same with ä as ae, ø as oe and so on
    bool initial = false;  // one letter
};

// Before a name. Common practice, no source.
constexpr std::array<std::string_view, 17> titles{"dr",   "prof", "mr",   "mrs", "ms",   "miss",
                                                  "sir",  "herr", "frau", "ing", "dipl", "mme",
                                                  "mlle", "sr",   "sra",  "don", "jr"};

bool is_title(const icu::UnicodeString& word) {
    const std::string text = utf8(word);
    return std::find(titles.begin(), titles.end(), text) != titles.end();
}

// With `titles_too` false what is only a title is left out, unless nothing else is there.
std::vector<Word> looks_of(const icu::UnicodeString& name, bool titles_too = true) {
    std::vector<Word> out;
    for (const icu::UnicodeString& word : written_words_of(name)) {
        if (!titles_too && is_title(word)) continue;
        out.push_back({look_of(word), look_of(spelled_out(word)), normalized(word, [](UErrorCode& status) {
                                                                      return icu::Normalizer2::getNFCInstance(
                                                                          status);
                                                                  }).countChar32() == 1});
    }
    return out.empty() && !titles_too ? looks_of(name) : out;
}

// The same but for signs that stand for anything.
bool same_look(std::string_view a, std::string_view b) {
    std::vector<char> from(b.size() + 1);  // whether the rest of `a` goes with b from each place
    from[b.size()] = 1;
    for (std::size_t j = b.size(); j-- > 0;) from[j] = from[j + 1] != 0 && b[j] == '*' ? 1 : 0;
    for (std::size_t i = a.size(); i-- > 0;) {
        std::vector<char> here(b.size() + 1);
        here[b.size()] = from[b.size()] != 0 && a[i] == '*' ? 1 : 0;
        for (std::size_t j = b.size(); j-- > 0;) {
            const bool skips = (a[i] == '*' || b[j] == '*') && (from[j] != 0 || here[j + 1] != 0);
            here[j] = skips || (a[i] == b[j] && from[j + 1] != 0) ? 1 : 0;
        }
        from = std::move(here);
    }
    return from[0] != 0;
}

bool same_word(const Word& a, const Word& b) {
    return same_look(a.look, b.look) || same_look(a.spelled, b.spelled);
}

// Whatever stands between the words.
Word run_of(const std::vector<Word>& words) {
    Word out;
    for (const Word& word : words) {
        out.look += word.look;
        out.spelled += word.spelled;
    }
    return out;
}

// Written together or apart, in any order.
bool look_alike(const icu::UnicodeString& a, const icu::UnicodeString& b) {
    const std::vector<Word> first = looks_of(a);
    std::vector<Word> second = looks_of(b);
    if (same_word(run_of(first), run_of(second))) return true;
    if (first.size() != second.size()) return false;
    for (const Word& word : first) {
        const auto found = std::find_if(second.begin(), second.end(),
                                        [&](const Word& other) { return same_word(word, other); });
        if (found == second.end()) return false;
        second.erase(found);
    }
    return true;
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
                return same_word(other, word) || (other.initial && word.look.starts_with(other.look));
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
    return look_alike(folded(a), folded(b)) || look_alike(as_typed(a), as_typed(b)) ||
           look_alike(capitals(a), capitals(b));
}

bool may_be_same_person(std::string_view a, std::string_view b) {
    if (looks_like(a, b)) return true;
    const std::vector<Word> first = looks_of(folded(a), false);
    const std::vector<Word> second = looks_of(folded(b), false);
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
    const icu::UnicodeString composed =
        normalized(text, [](UErrorCode& status) { return icu::Normalizer2::getNFCInstance(status); });
    for (int32_t i = 0; i < composed.length(); i = composed.moveIndex32(i, 1)) {
        const UChar32 c = composed.char32At(i);
        if (is_everyday(c) ||
            (c < 128 && std::string_view(" .,'-").find(static_cast<char>(c)) != std::string_view::npos))
            continue;
        const std::string why = "holds " + in_quotes(utf8(icu::UnicodeString(c))) +
                                "; names are of everyday letters, digits, blanks and . , ' - alone";
        return refuse(why.c_str());
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
