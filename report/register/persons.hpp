// Persons, compared as people read their names: after Unicode's NFKC and case folding (UAX 15), without
// blanks and punctuation, and by the look of the letters (confusables, UTS 39), by ICU.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright::report {

// The same for "C. Checker", "c.checker" and fullwidth letters; another one for a name that only looks like
// it.
std::string person_key(std::string_view name);

// Two names that a reader may take for one: equal keys, look-alike letters, missing accents or ä as ae, words
// in another order.
bool looks_like(std::string_view a, std::string_view b);
// looks_like(), or one may be short for the other: "A. Meier", "Meier" or "Dr. Anna B. Meier" and "Anna
// Meier". For who may not check what.
bool may_be_same_person(std::string_view a, std::string_view b);

// A name that cannot be read without doubt: letters of several scripts in one word, characters that do not
// show, signs and letters that no name of today holds (UTS 39), no letter at all. Besides letters, marks and
// digits a name holds blanks and . , ' - alone.
std::optional<Fault> unreadable_name(std::string_view name);

}  // namespace tipwright::report
