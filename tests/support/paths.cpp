#include "tests/support/paths.hpp"

#include <unistd.h>

#include <cstdlib>
#include <system_error>

namespace tipwright::test {

namespace {

class Scratch {
public:
    Scratch()
        : path(std::filesystem::path(binary_dir()) / "tests" / "scratch" / std::to_string(::getpid())),
          owner_(::getpid()) {
        std::filesystem::create_directories(path);
    }
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    ~Scratch() {
        // A child that was forked must not take its parent's folder along.
        if (::getpid() != owner_ || std::getenv("TIPWRIGHT_KEEP_SCRATCH") != nullptr) return;
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }

    std::filesystem::path path;

private:
    pid_t owner_;
};

}  // namespace

const std::string& source_dir() {
    static const std::string path = TIPWRIGHT_SOURCE_DIR;
    return path;
}

const std::string& binary_dir() {
    static const std::string path = TIPWRIGHT_BINARY_DIR;
    return path;
}

const std::filesystem::path& scratch_dir() {
    static const Scratch scratch;
    return scratch.path;
}

}  // namespace tipwright::test
