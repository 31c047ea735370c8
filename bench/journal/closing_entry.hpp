// Closing entry: how a journal ends that was closed, read from the end of its file alone, so that a folder of
// many runs is looked through at once.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

namespace tipwright::bench {

struct ClosingEntry {
    bool complete = false;
    std::string reason;
};

// Nothing where the last line is no good entry that closes it, or the file cannot be read.
std::optional<ClosingEntry> closing_entry(const std::filesystem::path& journal);

}  // namespace tipwright::bench
