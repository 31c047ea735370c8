#include "report/files/streams.hpp"

#include <fcntl.h>
#include <sodium.h>
#include <unistd.h>

#include <vector>

#include "report/files/files.hpp"
#include "report/files/open_file.hpp"
#include "report/files/open_input.hpp"

namespace tipwright {

namespace {
constexpr std::size_t piece_bytes = 1 << 18;
}

Outcome read_pieces(const std::filesystem::path& file, const std::function<Outcome(std::string_view)>& take) {
    const Result<int> opened = open_input(file);
    if (!opened) return opened.fault();
    OpenFile in(*opened);
    std::vector<char> piece(piece_bytes);
    while (const std::size_t got = in.read(piece.data(), piece.size()))
        if (Outcome taken = take({piece.data(), got}); !taken) return taken;
    if (in.error() != 0) return read_fault(file, in.error());
    return Done{};
}

GrowingFile::GrowingFile(const std::filesystem::path& file, unsigned mode)
    : file_(file),
      temporary_(file.string() + ".new-" + std::to_string(randombytes_random())),
      out_(temporary_, O_WRONLY | O_CREAT | O_EXCL, mode) {
    buffer_.reserve(piece_bytes + 4096);
}

GrowingFile::~GrowingFile() {
    if (out_.descriptor() >= 0) ::unlink(temporary_.c_str());
}

void GrowingFile::append(std::string_view bytes) {
    buffer_.append(bytes);
    if (buffer_.size() >= piece_bytes) flush();
}

void GrowingFile::flush() {
    out_.write(buffer_);
    buffer_.clear();
}

void GrowingFile::append_to(GrowingFile& other) {
    flush();
    const auto give = [&](std::string_view piece) -> Outcome {
        other.append(piece);
        return Done{};
    };
    const Outcome given =
        out_.error() != 0 ? write_fault(file_, out_.error()) : read_pieces(temporary_, give);
    if (!given && !other.not_appended_) other.not_appended_ = given.fault();
}

Outcome GrowingFile::hold() {
    flush();
    out_.flush();
    if (not_appended_) return *not_appended_;
    if (out_.error() != 0) return write_fault(file_, out_.error());
    return Done{};
}

Outcome GrowingFile::commit() {
    const bool opened = out_.descriptor() >= 0;
    Outcome held = hold();
    out_.close();
    if (held && out_.error() == 0) out_.note(::rename(temporary_.c_str(), file_.c_str()) == 0);
    if (opened && (!held || out_.error() != 0)) ::unlink(temporary_.c_str());
    if (!held) return held;
    if (out_.error() != 0) return write_fault(file_, out_.error());
    return flush_folder(file_.parent_path().empty() ? std::filesystem::path(".") : file_.parent_path());
}

}  // namespace tipwright
