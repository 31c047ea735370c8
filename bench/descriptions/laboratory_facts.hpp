// What a bench's file says of its laboratory beside instruments and numbers: [procedure], [decision],
// [water], [environment], [[capability]], [[signatory]]. All may be left out. Internal to this folder.
#pragma once

#include <string>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/toml_reader.hpp"

namespace tipwright::bench {

// Into facts and metrology of the bench.
void read_laboratory_facts(TomlTable& root, BenchDescription& out, FaultList& faults);

// A file of [[capability]] alone, as `tipwright laboratory control --out` writes it.
Outcome check_capability_file(const DescriptionText& text);
// The file that `capability` of a bench names; empty when the table stands in the bench or is not given.
Result<std::string> capability_named_by(const DescriptionText& bench);

}  // namespace tipwright::bench
