// Paths: where tests find the source tree, the programs that were built, and a folder of their own.
#pragma once

#include <filesystem>
#include <string>

namespace tipwright::test {

// The top of the source tree, and of the build tree.
const std::string& source_dir();
const std::string& binary_dir();

// A folder that no other process uses; it goes when the process ends, unless TIPWRIGHT_KEEP_SCRATCH is set.
const std::filesystem::path& scratch_dir();

}  // namespace tipwright::test
