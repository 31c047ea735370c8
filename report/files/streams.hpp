// Files too long for memory: read piece by piece, and written piece by piece but there only when whole, as in
// report/files/files.hpp.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/files/open_file.hpp"

namespace tipwright {

// Gives each piece to `take`, until it fails. Faults: file_missing, file_unreadable, those of take.
Outcome read_pieces(const std::filesystem::path& file, const std::function<Outcome(std::string_view)>& take);

// Grows under another name; commit() makes it the file. Without it nothing is left.
class GrowingFile {
public:
    // `mode` as for open(2).
    explicit GrowingFile(const std::filesystem::path& file, unsigned mode = 0644);
    ~GrowingFile();
    GrowingFile(const GrowingFile&) = delete;
    GrowingFile& operator=(const GrowingFile&) = delete;

    // What fails is told by commit().
    void append(std::string_view bytes);
    // What was appended so far, to be appended to another one.
    void append_to(GrowingFile& other);
    // All of it is on the disk, under the other name: commit() has but to rename. Faults as of commit().
    Outcome hold();
    // Faults: file_unwritable, disk_full, those of reading what was to be appended.
    Outcome commit();

private:
    void flush();
    std::filesystem::path file_;
    std::filesystem::path temporary_;
    std::string buffer_;
    OpenFile out_;
    std::optional<Fault> not_appended_;  // why what was to be is not
};

}  // namespace tipwright
