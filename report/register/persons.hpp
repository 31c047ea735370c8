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

// Two names that a reader may take for one: equal keys, look-alike letters, missing accents, words in another
// order.
bool looks_like(std::string_view a, std::string_view b);
// looks_like(), or one may be short for the other: "A. Meier" and "Anna Meier". For who may not check what.
bool may_be_same_person(std::string_view a, std::string_view b);

// A name that cannot be read without doubt: letters of several scripts in one word, characters that do not
// show, no letter at all.
std::optional<Fault> unreadable_name(std::string_view name);

}  // namespace tipwright::report
