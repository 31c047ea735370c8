// A copy that takes several steps: "NAME.new" until it is whole, then NAME. One that fails is removed at
// once; what was cut off, by a kill or with the power, is removed when the next one is begun in that folder.
// While a copy is being made, a lock on "NAME.new.lock" keeps it from being taken for such a one by another
// program; where the medium knows no locks, what was cut off stays. Private to report/register; throws Stop.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "report/seal/file_lock.hpp"

namespace tipwright::report {

class Unfinished {
public:
    // Needs the folder of `whole`. Waits for whoever makes a copy of the same name. `is_one`: whether a name
    // is that of such a copy; of other names nothing is removed.
    Unfinished(std::string whole, bool (*is_one)(std::string_view name));
    ~Unfinished();
    Unfinished(const Unfinished&) = delete;
    Unfinished& operator=(const Unfinished&) = delete;

    const std::string& path() const { return path_; }
    // Gives it its name, for good. Fault: file_unwritable, disk_full.
    void finish();

private:
    std::string whole_;
    std::string path_;
    std::optional<seal::FileLock> lock_;
};

}  // namespace tipwright::report
