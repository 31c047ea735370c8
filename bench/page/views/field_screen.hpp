// Field check, on a phone: what was counted and measured, and the verdict. Pure.
#pragma once

#include <map>

#include "bench/page/desk/desk.hpp"
#include "bench/page/views/frame.hpp"

namespace tipwright::page {

// What stands in the form's fields, by their names, as it was typed.
using Typed = std::map<std::string, std::string, std::less<>>;

// Nothing: a field that has to be filled in is empty, or holds no number; `wrong` is the name of its word.
std::optional<FieldCheckWanted> field_check_of(const Typed& typed, std::string& wrong);

// `name`: a word that is another for each sheet, so that one that is sent twice is kept once. `wrong`: why it
// was not taken; empty: nothing.
Html field_check_screen(const Visitor& visitor, const PageWords& words, const Typed& typed,
                        const std::string& name, const std::string& wrong);
Html field_check_result(const PageWords& words, const FieldCheckSeen& seen);

}  // namespace tipwright::page
