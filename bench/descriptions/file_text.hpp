// A file's text, up to a cap. One byte more than the cap is read, so that whoever parses it can refuse it.
// Faults: file_missing, file_unreadable; where is `name`.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>

#include "bench/descriptions/description_text.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

Result<DescriptionText> read_file(const std::filesystem::path& path, const std::string& name,
                                  std::size_t cap);

}  // namespace tipwright::bench
