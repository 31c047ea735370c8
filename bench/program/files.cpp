#include "bench/program/files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdint>
#include <cstring>

namespace tipwright::program {

namespace {

class Descriptor {
public:
    explicit Descriptor(int value) : value_(value) {}
    ~Descriptor() {
        if (value_ >= 0) ::close(value_);
    }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    int get() const { return value_; }

private:
    int value_;
};

Fault system_fault(FaultCode code, const std::string& did, const std::filesystem::path& file,
                   const std::string& remedy) {
    const int error = errno;
    return {error == ENOSPC || error == EDQUOT ? FaultCode::disk_full : code,
            did + ": " + std::strerror(error), file.string(),
            error == ENOSPC || error == EDQUOT ? "free space on the disk and try again" : remedy};
}

}  // namespace

Result<std::string> read_file(const std::filesystem::path& file, std::size_t most_bytes) {
    const Descriptor in(::open(file.c_str(), O_RDONLY | O_CLOEXEC));
    if (in.get() < 0) {
        return errno == ENOENT
                   ? Fault{FaultCode::file_missing, "no such file", file.string(), "check the name"}
                   : system_fault(FaultCode::file_unreadable, "cannot open", file, "check its permissions");
    }
    const Fault too_large{FaultCode::file_too_large, "larger than " + std::to_string(most_bytes >> 20) + " MiB",
                          file.string(), "this is not a file the program wrote or expects"};
    // Refused by its size, before it is read.
    struct stat status {};
    if (::fstat(in.get(), &status) == 0 && S_ISREG(status.st_mode) &&
        static_cast<std::uintmax_t>(status.st_size) > most_bytes)
        return too_large;
    std::string bytes;
    std::array<char, 65536> buffer{};
    for (;;) {
        const ssize_t n = ::read(in.get(), buffer.data(), buffer.size());
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return system_fault(FaultCode::file_unreadable, "cannot read", file, "is it a file?");
        if (n == 0) break;
        bytes.append(buffer.data(), static_cast<std::size_t>(n));
        if (bytes.size() > most_bytes) return too_large;
    }
    return bytes;
}

Outcome write_file(const std::filesystem::path& file, std::string_view bytes) {
    const std::filesystem::path part = file.string() + ".part";
    {
        const Descriptor out(::open(part.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644));
        if (out.get() < 0) {
            return system_fault(FaultCode::file_unwritable, "cannot write", file,
                                "check the folder and its permissions");
        }
        std::size_t done = 0;
        while (done < bytes.size()) {
            const ssize_t n = ::write(out.get(), bytes.data() + done, bytes.size() - done);
            if (n < 0 && errno == EINTR) continue;
            if (n < 0) {
                const Fault fault =
                    system_fault(FaultCode::file_unwritable, "cannot write", file, "check the disk");
                ::unlink(part.c_str());
                return fault;
            }
            done += static_cast<std::size_t>(n);
        }
        if (::fsync(out.get()) != 0) {
            const Fault fault =
                system_fault(FaultCode::file_unwritable, "cannot flush", file, "check the disk");
            ::unlink(part.c_str());
            return fault;
        }
    }
    if (::rename(part.c_str(), file.c_str()) != 0) {
        const Fault fault = system_fault(FaultCode::file_unwritable, "cannot name", file, "check the folder");
        ::unlink(part.c_str());
        return fault;
    }
    return Done{};
}

Outcome make_folder(const std::filesystem::path& folder) {
    std::error_code error;
    std::filesystem::create_directories(folder, error);
    if (error || !std::filesystem::is_directory(folder, error)) {
        return Fault{FaultCode::file_unwritable,
                     "cannot make the folder" + (error ? ": " + error.message() : ""), folder.string(),
                     "give a folder that can be written with --out"};
    }
    return Done{};
}

}  // namespace tipwright::program
