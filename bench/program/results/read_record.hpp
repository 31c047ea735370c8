// A record from a record file or from inside a certificate.
#pragma once

#include <filesystem>

#include "calib/base/fault.hpp"
#include "report/record/record.hpp"
#include "report/record/record_difference.hpp"

namespace tipwright::program {

Result<report::Record> read_record(const std::filesystem::path& file);

// Whether the results are what the record's own observations give.
report::RecordAgreement results_follow(const report::Record& record);

// A record's canonical text against the same record computed again by this program; `computed` carries the
// version of the program that made the stored one.
report::RecordAgreement record_agreement(const std::string& stored, const report::Record& computed);

}  // namespace tipwright::program
