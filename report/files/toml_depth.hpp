// How deeply a TOML text nests, told before a parser reads it: each dot of a key, each array and each inline
// table makes the parser call itself once more, and some ten thousand of them exhaust its stack. Follows the
// strings, escapes and comments of TOML 1.0.0; once a text is no TOML, a parser stops there and what follows
// does not matter.
#pragma once

#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright::report {

// Of a key with its dots, the arrays and inline tables around it, and their keys. Headings of tables count
// for themselves, so nothing lies deeper than twice this.
inline constexpr int toml_depth_max = 32;

// Fault syntax, at "name:line:column" of the first place that is deeper.
Outcome check_toml_depth(std::string_view text, const std::string& name);

}  // namespace tipwright::report
