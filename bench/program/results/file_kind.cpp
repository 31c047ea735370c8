#include "bench/program/results/file_kind.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <string_view>

#include "report/tables/tables.hpp"

namespace tipwright::program {

Result<FileKind> kind_of(const std::filesystem::path& file) {
    std::error_code error;
    if (std::filesystem::is_directory(file, error)) {
        return Fault{FaultCode::file_unreadable, "this is a folder", file.string(), "name a file in it"};
    }
    if (std::filesystem::is_other(file, error))  // to open it might wait for ever
        return Fault{FaultCode::file_unreadable, "this is a pipe, a socket or a device", file.string(),
                     "name a file"};
    std::ifstream in(file, std::ios::binary);
    if (!in) {
        const bool missing = errno == ENOENT;
        return Fault{missing ? FaultCode::file_missing : FaultCode::file_unreadable,
                     missing ? "no such file" : std::string("cannot open: ") + std::strerror(errno),
                     file.string(), "check the name"};
    }
    std::array<char, 512> buffer{};
    in.read(buffer.data(), buffer.size());
    return kind_of_bytes({buffer.data(), static_cast<std::size_t>(in.gcount())});
}

FileKind kind_of_bytes(std::string_view head) {
    if (head.starts_with("tipwright-journal ")) return FileKind::journal;
    if (head.starts_with("%PDF-")) return FileKind::certificate;
    if (head.starts_with("PK\x03\x04")) return FileKind::zip;
    if (head.starts_with("tipwright seal ")) return FileKind::seal;
    if (head.starts_with("TIPWRIGHT SEAL ")) return FileKind::seal_code;
    if (head.starts_with("<?xml")) return FileKind::xml;
    if (report::run_table_of(head) != nullptr) return FileKind::table;
    const std::size_t first = head.find_first_not_of(" \t\r\n");
    if (first != std::string_view::npos && head[first] == '{') return FileKind::record;
    return FileKind::other;
}

}  // namespace tipwright::program
