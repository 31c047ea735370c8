// Where the keys of the seal lie, and what lies beside them.
#pragma once

#include <filesystem>

namespace tipwright::program {

std::filesystem::path keys_folder(const std::filesystem::path& given);
// Where it is noted which numbers were given.
std::filesystem::path issued_numbers_file(const std::filesystem::path& folder);

}  // namespace tipwright::program
