#include "report/files/file_text.hpp"

#include <fstream>

namespace tipwright::report {

Result<std::string> read_file(const std::filesystem::path& file, std::size_t max_bytes,
                              const std::string& remedy) {
    const std::string name = file.string();
    std::error_code error;
    if (!std::filesystem::is_regular_file(file, error))
        return Fault{FaultCode::file_missing, "no such file", name, remedy};
    const auto size = std::filesystem::file_size(file, error);
    if (error) return Fault{FaultCode::file_unreadable, error.message(), name, "check its permissions"};
    if (size > max_bytes)
        return Fault{FaultCode::file_too_large,
                     std::to_string(size) + " bytes, at most " + std::to_string(max_bytes) + " are read",
                     name, remedy};
    std::ifstream in(file, std::ios::binary);
    std::string bytes(size, '\0');
    if (!in.read(bytes.data(), static_cast<std::streamsize>(size)))
        return Fault{FaultCode::file_unreadable, "cannot be read", name, "check its permissions"};
    return bytes;
}

}  // namespace tipwright::report
