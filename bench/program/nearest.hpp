// What was meant by a word of the command line that is none.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace CLI {
class App;
}

namespace tipwright::program {

// The one of the names that the word is most like, if it is like any: up to a third of its letters are
// missing, too many, other ones or exchanged (optimal string alignment distance; the share is common
// practice, no source).
std::optional<std::string> nearest(const std::string& word, const std::vector<std::string>& names);

// The first word that is no command, or no option of the command it stands behind. Nothing: the words are
// known, and something else is wrong.
std::optional<Fault> unknown_word(const CLI::App& app, const std::vector<std::string>& words);

}  // namespace tipwright::program
