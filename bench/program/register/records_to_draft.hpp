// Records, from files or the work folder, on their way to drafts of certificates.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "bench/program/common_options.hpp"
#include "bench/program/results/record_source.hpp"
#include "bench/program/subcommand.hpp"
#include "calib/base/fault.hpp"
#include "report/record/record.hpp"
#include "report/register/certificates.hpp"

namespace tipwright::program {

// What records were made from: options of a command.
void add_sources(Subcommand command, RecordSources& sources);

// The records of files, each as its journal or table gives it, and what to call them. Fault not_permitted:
// one has a number already.
Outcome read_given(const CommonOptions& common, const std::vector<std::filesystem::path>& files,
                   const RecordSources& sources, std::vector<report::Record>& records,
                   std::vector<std::string>& names);

// Where there is a reason.
void accept_reservations(std::vector<report::Record>& records, const report::Actor& actor,
                         const std::string& reason);

struct GaugeRecords {
    const report::Record* found = nullptr;
    const report::Record* left = nullptr;
    std::string found_name;
    std::string left_name;
};

// By serial and model; one record of each state. Fault: duplicate.
Result<std::vector<GaugeRecords>> by_gauge(const std::vector<report::Record>& records,
                                           const std::vector<std::string>& names);

// Puts a record in the register; 0 where there is none. `name`: for the fault.
Result<report::Id> enter(report::Register& reg, const report::Actor& actor, const report::Record* record,
                         const std::string& bench, const std::string& name);

// Enters what was measured and drafts a certificate of it, with the gauge's open order.
Result<report::Id> draft_one(report::Register& reg, const report::Actor& actor, const GaugeRecords& gauge,
                             const std::string& bench, report::Draft draft);

}  // namespace tipwright::program
