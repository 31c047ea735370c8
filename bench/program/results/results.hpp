// Results: the files a measurement leaves in its folder, and what is said about them.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "bench/program/common_options.hpp"
#include "calib/base/fault.hpp"
#include "report/certificate/stationery.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

struct ResultFile {
    std::string what;  // "record", "certificate", ...
    std::filesystem::path file;
};

// Writes record.json, the tables of such a record (report/tables/tables.hpp) and, when the record is
// complete, certificate.pdf. Each file whole or not at all.
Result<std::vector<ResultFile>> write_results(const CommonOptions& common, const report::Record& record,
                                              const std::filesystem::path& folder, const std::string& paper);

// Words of a language among the templates, or of a words file.
Result<report::certificate::Words> certificate_words(const CommonOptions& common,
                                                     const std::string& language);

// As --paper names it: A4 or Letter.
report::Paper paper_named(const std::string& name);
// With the templates' own fonts.
Result<report::Stationery> stationery(const CommonOptions& common, const std::string& paper,
                                      const std::string& language);

// Certificate of a record as PDF bytes, with the templates' layout.
Result<std::string> certificate_bytes(const CommonOptions& common, const report::Record& record,
                                      const std::string& paper, const std::string& language);

// Verdict, rate model, findings and the files, for people; or one JSON document.
void print_results(const CommonOptions& common, const report::Record& record,
                   const std::vector<ResultFile>& files);

}  // namespace tipwright::program
