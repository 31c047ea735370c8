#include "report/seal/digest.hpp"

#include <fcntl.h>
#include <sodium.h>
#include <unistd.h>

#include <cerrno>
#include <vector>

#include "report/files/files.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::seal {

struct Sha256::State {
    crypto_hash_sha256_state sodium{};
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
    crypto_hash_sha256_init(&state_->sodium);
}

Sha256::~Sha256() = default;

void Sha256::add(std::string_view bytes) {
    crypto_hash_sha256_update(&state_->sodium, reinterpret_cast<const unsigned char*>(bytes.data()),
                              bytes.size());
}

std::string Sha256::bytes() {
    std::string out(crypto_hash_sha256_BYTES, '\0');
    crypto_hash_sha256_final(&state_->sodium, reinterpret_cast<unsigned char*>(out.data()));
    return out;
}

Result<std::string> sha256_hex_of_file(const std::string& path) {
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) return read_fault(path, errno);
    Sha256 digest;
    std::vector<char> piece(std::size_t{1} << 18);
    for (;;) {
        const ssize_t got = ::read(file, piece.data(), piece.size());
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) {
            const int error = errno;
            ::close(file);
            return read_fault(path, error);
        }
        if (got == 0) break;
        digest.add({piece.data(), static_cast<std::size_t>(got)});
    }
    ::close(file);
    return to_hex(digest.bytes());
}

}  // namespace tipwright::seal
