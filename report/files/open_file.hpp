// An open descriptor with what every reader and writer does with it: interrupted calls are made
// again, and the first error is kept.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string_view>

namespace tipwright {

class OpenFile {
public:
    // As for open(2); always closed in a program that is executed.
    OpenFile(const std::filesystem::path& path, int flags, unsigned mode = 0);
    // Takes over what is open already.
    explicit OpenFile(int opened) : descriptor_(opened) {}
    ~OpenFile();
    OpenFile(const OpenFile&) = delete;
    OpenFile& operator=(const OpenFile&) = delete;

    // The errno of what failed first, 0 if nothing did.
    int error() const { return error_; }
    int descriptor() const { return descriptor_; }
    // Keeps errno where something that was done with it failed.
    void note(bool good);
    // Bytes read, 0 at the end or after an error.
    std::size_t read(char* into, std::size_t most);
    // Nothing after an error.
    void write(std::string_view bytes);
    // What was written so far is on the disk.
    void flush();
    void close();

private:
    int descriptor_;
    int error_ = 0;
};

}  // namespace tipwright
