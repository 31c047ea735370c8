// A record held against what it was measured from: the journal, or the table of supplied measurements, whose
// SHA-256 it names. What becomes a certificate is computed from there anew, so that an edited record becomes
// none, and a virtual bench or invented data stay marked as such.
#pragma once

#include <filesystem>
#include <vector>

#include "bench/program/common_options.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

struct RecordSources {
    std::vector<std::filesystem::path> files;  // journals or tables, besides those that lie beside the record
    std::filesystem::path plan;                // of supplied measurements that were evaluated with one
};

// The record as its source gives it, equal to the one given but for the version of the program. Faults:
// not_permitted (the source is not there, or the record is another), those of reading and evaluating the
// source.
Result<report::Record> record_from_source(const CommonOptions& common, const report::Record& given,
                                          const std::filesystem::path& file, const RecordSources& sources);

}  // namespace tipwright::program
