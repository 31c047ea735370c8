// A finding in a message of the run: its name and numbers, since sentences belong to the words of a language,
// which a run does not know.
#pragma once

#include <string>

#include "calib/tips/finding.hpp"

namespace tipwright::bench {

// "phantom timed (count 4, tips 66)".
std::string note_of(const calib::Finding& finding);

}  // namespace tipwright::bench
