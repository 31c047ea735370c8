// Parts that several descriptions share. Internal to this folder.
#pragma once

#include <string>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/toml_reader.hpp"

namespace tipwright::bench {

// [customer], [laboratory]: name, address, contact. Empty when the table is not given.
PartyDescription read_party(TomlTable table);

// The kind a gauge file names; empty when the text is itself a kind file.
Result<std::string> kind_named_by(const DescriptionText& text);

// Limits of a limits file.
Result<calib::Limits> parse_limits(const DescriptionText& text);
// The limits file a plan names; empty when it carries its limits or wants none.
Result<std::string> limits_named_by(const DescriptionText& plan);
// The text with another file's in the place of the key that names it.
DescriptionText with_part_inside(const DescriptionText& whole, std::string_view key,
                                 const DescriptionText& part);

}  // namespace tipwright::bench
