#include "report/register/sqlite_place.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>

#include "report/register/database.hpp"

namespace tipwright::report {
namespace {

// SQLite file format, section "The Rollback Journal": a journal that begins with zeros is over.
constexpr std::size_t journal_mark_bytes = 8;

bool something_in(const std::string& path) {
    struct stat found {};
    return ::stat(path.c_str(), &found) == 0 && found.st_size > 0;
}

bool hot_journal(const std::string& path) {
    if (!something_in(path)) return false;
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    char mark[journal_mark_bytes] = {};
    const ssize_t got = file < 0 ? -1 : ::read(file, mark, sizeof mark);
    if (file >= 0) ::close(file);
    // One that cannot be read may be as hot as any.
    return got < 0 || std::any_of(mark, mark + got, [](char c) { return c != 0; });
}

[[noreturn]] void unfinished(const std::string& path, const std::string& beside) {
    throw Stop{{FaultCode::file_unwritable,
                "cannot be judged: it was not closed by who wrote last (" +
                    beside.substr(beside.rfind('/') + 1) + "), and here it is only read",
                path,
                "copy the folder to where it can be written, and open it there, as 'tipwright register "
                "check' does"}};
}

// As SQLite wants it: what means something in a URI is escaped.
std::string immutable_uri(const std::string& path) {
    std::string out = "file:";
    for (const char c : path) {
        char escaped[4];
        std::snprintf(escaped, sizeof escaped, "%%%02X",
                      static_cast<unsigned>(static_cast<unsigned char>(c)));
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '/' || c == '.' || c == '-' || c == '_';
        out += plain ? std::string(1, c) : std::string(escaped);
    }
    return out + "?immutable=1";
}

}  // namespace

void refuse_unfinished(const SqlitePlace& place) {
    if (hot_journal(place.path + "-journal")) unfinished(place.path, place.path + "-journal");
}

SqlitePlace sqlite_place(const std::string& path) {
    struct stat found {};
    if (::stat(path.c_str(), &found) != 0)
        throw Stop{
            {FaultCode::file_missing, "no register here", path, "check the folder, or make a register"}};
    if (path.find('"') != std::string::npos)
        throw Stop{{FaultCode::bad_value, "the path holds a quotation mark", path, "use another folder"}};
    const std::string folder = path.substr(0, path.rfind('/') + 1);
    SqlitePlace out{path, ::access(path.c_str(), W_OK) != 0 ||
                              ::access(folder.empty() ? "." : folder.c_str(), W_OK) != 0};
    if (!out.cannot_be_written) return out;
    // What was written last may still stand in the write-ahead log, which only a writer can bring in.
    if (something_in(path + "-wal")) unfinished(path, path + "-wal");
    refuse_unfinished(out);
    return out;
}

std::string writing_parameters(const SqlitePlace& place) {
    return "dbname=\"" + place.path + "\" timeout=30";
}

std::string read_only_parameters(const SqlitePlace& place, int wait_s) {
    // Nobody else changes it either where it cannot be written.
    if (place.cannot_be_written) return "dbname=\"" + immutable_uri(place.path) + "\" readonly=true";
    return "dbname=\"" + place.path + "\" readonly=true timeout=" + std::to_string(wait_s);
}

}  // namespace tipwright::report
