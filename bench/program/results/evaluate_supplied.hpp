// Supplied measurements to a record, marked as evaluated from supplied data.
#pragma once

#include "bench/program/common_options.hpp"
#include "bench/program/results/record_builder.hpp"

namespace tipwright::program {

struct EvaluateOptions {
    std::filesystem::path source;  // journal or CSV
    std::filesystem::path out;
    std::string plan;  // CSV only: limits and targets
    std::string paper = "A4";
    bool as_left = false;
};

Result<report::Record> record_of_supplied(const CommonOptions& common, const EvaluateOptions& options,
                                          const RecordOptions& record_options);

}  // namespace tipwright::program
