#include "bench/program/results/file_kind.hpp"

#include <array>
#include <string_view>

#include "report/files/files.hpp"
#include "report/files/open_file.hpp"
#include "report/files/open_input.hpp"
#include "report/tables/tables.hpp"

namespace tipwright::program {

Result<FileKind> kind_of(const std::filesystem::path& file) {
    std::error_code error;
    // What is read from a pipe here is missed by whoever reads the file.
    if (std::filesystem::is_other(file, error))
        return Fault{FaultCode::file_unreadable, "this is a pipe, a socket or a device", file.string(),
                     "name a file"};
    const Result<int> opened = open_input(file);
    if (!opened) return opened.fault();
    OpenFile in(*opened);
    std::array<char, 512> head{};
    const std::size_t size = in.read(head.data(), head.size());
    if (in.error() != 0) return read_fault(file, in.error());
    return kind_of_bytes({head.data(), size});
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
