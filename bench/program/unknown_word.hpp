// What was meant by an unknown word of the command line.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace CLI {
class App;
}

namespace tipwright::program {

// The first word that is no command, or no option of the command it stands behind. Nothing: the words are
// known, and something else is wrong.
std::optional<Fault> unknown_word(const CLI::App& app, const std::vector<std::string>& words);

}  // namespace tipwright::program
