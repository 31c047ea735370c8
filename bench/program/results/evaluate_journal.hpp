// A journal file to a record: read, replayed, computed.
#pragma once

#include <filesystem>

#include "bench/program/results/record_builder.hpp"

namespace tipwright::program {

// Damage is a Fault; a torn tail is cut back and told in the record's deviations.
Result<report::Record> record_of_journal(const std::filesystem::path& journal, const RecordOptions& options);

// Of a journal that says that the gauge was measured as found, where as left is asked for.
Fault as_found_not_left(const std::filesystem::path& journal);

}  // namespace tipwright::program
