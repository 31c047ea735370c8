// Opening what is to be read, without ever waiting for it: a regular file, or what this process was handed as
// a descriptor (/dev/stdin, /dev/fd/N, as a shell's "<(...)" names it), or /dev/null, which is empty. A pipe,
// socket or device under any other name is no file that the program writes or expects, and to open it might
// wait for ever.
#pragma once

#include <filesystem>
#include <string>

#include "calib/base/fault.hpp"

namespace tipwright {

// A descriptor, which the caller closes. Fault: file_missing (with this remedy), file_unreadable.
Result<int> open_input(const std::filesystem::path& file, const std::string& remedy = "check the name");

}  // namespace tipwright
