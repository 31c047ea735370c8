// Journal writer: appends entries, numbers them and gives each its checksum. Entries that state what the
// run did are to be followed by sync(). Once a write failed, every later call tells the same fault: the run
// stops the water, and what is on the disk is kept as it is.
// Durable: each entry goes to the operating system at once and to the disk within the group-commit time,
// by a thread of the writer's own; sync() waits for the disk. Not durable: entries are buffered until
// sync(), for lockstep runs.
#pragma once

#include <cstdint>
#include <filesystem>
#include <initializer_list>
#include <memory>
#include <string_view>

#include "bench/journal/append_file.hpp"
#include "bench/journal/line.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct JournalOptions {
    bool durable = false;
    double group_commit_s = 0.9;  // wall time, 0.01 to 1; journals with the same commit at the same moments
};

class JournalWriter {
public:
    // Writes the first line, which names the format.
    static Result<std::unique_ptr<JournalWriter>> create(const std::filesystem::path& path,
                                                         JournalOptions options = {});
    static Result<std::unique_ptr<JournalWriter>> create(std::unique_ptr<AppendFile> file,
                                                         JournalOptions options = {});
    // Goes on after the last good entry of a journal that was read before (see reader.hpp).
    static Result<std::unique_ptr<JournalWriter>> resume(const std::filesystem::path& path,
                                                         std::uint64_t keep_bytes,
                                                         std::uint64_t last_sequence,
                                                         JournalOptions options = {});
    // The same for a file that is held already (hold_append_file).
    static Result<std::unique_ptr<JournalWriter>> resume(std::unique_ptr<AppendFile> held,
                                                         std::uint64_t keep_bytes,
                                                         std::uint64_t last_sequence,
                                                         JournalOptions options = {});

    virtual ~JournalWriter() = default;
    // For example append(t, "weight", {{"mass_g", 12.34}, {"stable", true}}).
    virtual Outcome append(double time_s, std::string_view kind,
                           std::initializer_list<JournalField> fields) = 0;
    // Everything appended so far is kept, come what may (durable), or handed to the operating system.
    virtual Outcome sync() = 0;
    // Entries appended so far.
    virtual std::uint64_t sequence() const = 0;
};

}  // namespace tipwright::bench
