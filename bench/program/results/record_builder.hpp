// RecordBuilder: from a replayed run, or from supplied measurements, to a record.
#pragma once

#include <string>

#include "bench/run/replay.hpp"
#include "calib/base/fault.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

struct SourceFile {
    std::string name;  // file name without its folder
    std::string sha256;
};

struct RecordOptions {
    report::State state = report::State::as_found;  // where the journal does not say
    std::string number = "DRAFT";
};

// From descriptions to what a record says of them.
report::Party party_of(const bench::PartyDescription& party);
report::GaugeIdentity identity_of(const bench::GaugeDescription& gauge);
void add_instruments(const std::vector<bench::InstrumentDescription>& instruments, report::Record& record);

// An incomplete run becomes an incomplete record, with what was measured, as long as one step is there.
Result<report::Record> record_of_run(const bench::ReplayedRun& run, const SourceFile& journal,
                                     const RecordOptions& options);

}  // namespace tipwright::program
