#include "bench/program/file_kind.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <string_view>

namespace tipwright::program {

Result<FileKind> kind_of(const std::filesystem::path& file) {
    std::error_code error;
    if (std::filesystem::is_directory(file, error)) {
        return Fault{FaultCode::file_unreadable, "this is a folder", file.string(), "name a file in it"};
    }
    std::ifstream in(file, std::ios::binary);
    if (!in) {
        const bool missing = errno == ENOENT;
        return Fault{missing ? FaultCode::file_missing : FaultCode::file_unreadable,
                     missing ? "no such file" : std::string("cannot open: ") + std::strerror(errno),
                     file.string(), "check the name"};
    }
    std::array<char, 512> buffer{};
    in.read(buffer.data(), buffer.size());
    const std::string_view head(buffer.data(), static_cast<std::size_t>(in.gcount()));
    if (head.starts_with("tipwright-journal ")) return FileKind::journal;
    if (head.starts_with("%PDF-")) return FileKind::certificate;
    const std::size_t first = head.find_first_not_of(" \t\r\n");
    if (first != std::string_view::npos && head[first] == '{') return FileKind::record;
    return FileKind::other;
}

}  // namespace tipwright::program
