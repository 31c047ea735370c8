// Recovery: what a run left in its journal when it did not come to its end, and where it can go on. The
// journal is held from the first look on, so that no other process goes on with it too; nothing is changed by
// looking.
#pragma once

#include <filesystem>
#include <memory>

#include "bench/journal/append_file.hpp"
#include "bench/journal/reader.hpp"
#include "bench/journal/writer.hpp"
#include "bench/run/replay.hpp"
#include "bench/run/run.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct OpenRun {
    std::unique_ptr<AppendFile> file;
    JournalSummary journal;
    // Empty but for the opening when nothing had begun (run.begun): the descriptions may be cut short.
    ReplayedRun run;
    // Steps with every run closed are kept: 1 to first_step - 1.
    int first_step = 1;
    KnownIdentities identities;  // what its instruments said last
};

// Faults: file_missing, damaged, those of reading; file_unwritable while another process holds the journal;
// inconsistent when the run is complete.
Result<OpenRun> open_run(const std::filesystem::path& journal);

// The torn tail is cut back, and the writer goes on after the last good entry.
Result<std::unique_ptr<JournalWriter>> go_on_writing(OpenRun& run, JournalOptions options);

}  // namespace tipwright::bench
