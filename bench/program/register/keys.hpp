// Where the keys of the seal lie, and what lies beside them.
#pragma once

#include <filesystem>

#include "calib/base/fault.hpp"

namespace tipwright::program {

std::filesystem::path keys_folder(const std::filesystem::path& given);
// Before a passphrase is asked for. Fault: file_missing, with the command that makes them.
Outcome keys_are_there(const std::filesystem::path& given);
// Where it is noted which numbers were given.
std::filesystem::path issued_numbers_file(const std::filesystem::path& folder);

}  // namespace tipwright::program
