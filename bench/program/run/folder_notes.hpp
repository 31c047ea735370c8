// Notes that the program keeps of its runs in a work folder: a TOML file of tables of one name.
#pragma once

#include <filesystem>
#include <functional>

#include "bench/descriptions/toml_reader.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

// Each [[tables]] of the file; nothing where there is no file. Faults: of reading, of TOML, of what `take`
// asks for.
Outcome each_note(const std::filesystem::path& file, const char* tables,
                  const std::function<void(bench::TomlTable&)>& take);

}  // namespace tipwright::program
