// A record from a record file or from inside a certificate.
#pragma once

#include <filesystem>

#include "calib/base/fault.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

Result<report::Record> read_record(const std::filesystem::path& file);

// The results are what the record's own observations give, to the last bit.
bool results_follow(const report::Record& record);

}  // namespace tipwright::program
