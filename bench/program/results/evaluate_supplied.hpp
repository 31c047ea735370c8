// Supplied measurements to a record, marked as evaluated from supplied data.
#pragma once

#include "bench/program/commands.hpp"
#include "bench/program/results/record_builder.hpp"

namespace tipwright::program {

Result<report::Record> record_of_supplied(const CommonOptions& common, const EvaluateOptions& options,
                                          const RecordOptions& record_options);

}  // namespace tipwright::program
