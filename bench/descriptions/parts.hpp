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

// Limits of a limits file, and the plan with their text in the place of their name.
Result<calib::Limits> parse_limits(const DescriptionText& text);
// The limits file a plan names; empty when it carries its limits or wants none.
Result<std::string> limits_named_by(const DescriptionText& plan);
DescriptionText with_limits_inside(const DescriptionText& plan, const DescriptionText& limits);

}  // namespace tipwright::bench
