#include "report/files/streams.hpp"

#include <fcntl.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <vector>

#include "report/files/files.hpp"
#include "report/files/open_input.hpp"

namespace tipwright {

namespace {
constexpr std::size_t piece_bytes = 1 << 18;
}

Outcome read_pieces(const std::filesystem::path& file, const std::function<Outcome(std::string_view)>& take) {
    const Result<int> opened = open_input(file);
    if (!opened) return opened.fault();
    const int descriptor = *opened;
    std::vector<char> piece(piece_bytes);
    Outcome done = Done{};
    while (done) {
        const ssize_t got = ::read(descriptor, piece.data(), piece.size());
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) done = read_fault(file, errno);
        if (got <= 0) break;
        done = take({piece.data(), static_cast<std::size_t>(got)});
    }
    ::close(descriptor);
    return done;
}

GrowingFile::GrowingFile(const std::filesystem::path& file)
    : file_(file), temporary_(file.string() + ".new-" + std::to_string(randombytes_random())) {
    descriptor_ = ::open(temporary_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
    if (descriptor_ < 0) error_ = errno;
    buffer_.reserve(piece_bytes + 4096);
}

GrowingFile::~GrowingFile() {
    if (descriptor_ < 0) return;
    ::close(descriptor_);
    ::unlink(temporary_.c_str());
}

void GrowingFile::append(std::string_view bytes) {
    buffer_.append(bytes);
    if (buffer_.size() >= piece_bytes) flush();
}

void GrowingFile::flush() {
    std::string_view left = buffer_;
    while (error_ == 0 && !left.empty()) {
        const ssize_t put = ::write(descriptor_, left.data(), left.size());
        if (put < 0 && errno == EINTR) continue;
        if (put < 0) error_ = errno;
        if (put > 0) left.remove_prefix(static_cast<std::size_t>(put));
    }
    buffer_.clear();
}

void GrowingFile::append_to(GrowingFile& other) {
    if (error_ == 0) flush();
    if (error_ == 0) {
        const auto read = read_pieces(temporary_, [&](std::string_view piece) -> Outcome {
            other.append(piece);
            return Done{};
        });
        if (!read) error_ = EIO;
    }
    if (other.error_ == 0) other.error_ = error_;
}

Outcome GrowingFile::commit() {
    if (error_ == 0) flush();
    if (error_ == 0 && ::fsync(descriptor_) != 0) error_ = errno;
    if (descriptor_ >= 0) {
        if (::close(descriptor_) != 0 && error_ == 0) error_ = errno;
        descriptor_ = -1;
        if (error_ == 0 && ::rename(temporary_.c_str(), file_.c_str()) != 0) error_ = errno;
        if (error_ != 0) ::unlink(temporary_.c_str());
    }
    if (error_ != 0) return write_fault(file_, error_);
    return flush_folder(file_.parent_path().empty() ? std::filesystem::path(".") : file_.parent_path());
}

}  // namespace tipwright
