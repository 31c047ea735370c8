// Line ASCII, profile: reads the family's part of a profile file.
#pragma once

#include <memory>

#include "bench/descriptions/toml_reader.hpp"
#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

// Faults are noted in the table's list; the profile is then not to be used.
std::shared_ptr<const LineAsciiProfile> parse_line_ascii(TomlTable& root, Role role);

}  // namespace tipwright::bench
