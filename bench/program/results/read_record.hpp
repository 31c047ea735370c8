// A record from a record file or from inside a certificate.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "calib/base/fault.hpp"
#include "report/record/record.hpp"
#include "report/record/record_difference.hpp"
#include "report/register/entries.hpp"

namespace tipwright::report {
class Register;
}

namespace tipwright::program {

Result<report::Record> read_record(const std::filesystem::path& file);

// As read_record; inconsistent where its results do not follow from its own observations (`verify` calls it
// WRONG). For whatever computes from a record or draws it; takes the time of one evaluation.
Result<report::Record> read_sound_record(const std::filesystem::path& file);
// The same of one that a register keeps; name: what a person knows it by, its certificate's number.
Result<report::Record> kept_sound_record(report::Register& reg, report::Id id, const std::string& name);
// Empty: they follow.
std::optional<Fault> unsound(const report::Record& record, const std::string& where);

// Whether the results are what the record's own observations give.
report::RecordAgreement results_follow(const report::Record& record);

// A record's canonical text against the same record computed again by this program; `computed` carries the
// version of the program that made the stored one.
report::RecordAgreement record_agreement(const std::string& stored, const report::Record& computed);

}  // namespace tipwright::program
