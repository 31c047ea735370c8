// MemoryFile: bytes under a path without a place on a disk, for a library that reads from files alone. Gone
// with the object.
#pragma once

#include <string>
#include <string_view>

namespace tipwright {

class MemoryFile {
public:
    explicit MemoryFile(std::string_view bytes);
    MemoryFile(const MemoryFile&) = delete;
    MemoryFile& operator=(const MemoryFile&) = delete;
    ~MemoryFile();

    // False where the system offers none, and for no bytes.
    bool ok() const { return ok_; }
    std::string path() const;

private:
    int descriptor_;
    bool ok_ = false;
};

}  // namespace tipwright
