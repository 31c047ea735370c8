#include "report/seal/digest.hpp"

#include <openssl/evp.h>
#include <unistd.h>

#include <cerrno>
#include <stdexcept>
#include <vector>

#include "report/files/files.hpp"
#include "report/files/open_input.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::seal {

namespace {

// libcrypto's is four times as fast as libsodium's: logs of years are hashed as they are read.
void must(int done) {
    if (done != 1) throw std::runtime_error("SHA-256 is not to be had from libcrypto");
}

}  // namespace

struct Sha256::State {
    EVP_MD_CTX* context = EVP_MD_CTX_new();
    State() { must(context != nullptr && EVP_DigestInit_ex(context, EVP_sha256(), nullptr) == 1 ? 1 : 0); }
    State(const State&) = delete;
    State& operator=(const State&) = delete;
    ~State() { EVP_MD_CTX_free(context); }
};

Sha256::Sha256() : state_(std::make_unique<State>()) {}

Sha256::~Sha256() = default;

void Sha256::add(std::string_view bytes) {
    must(EVP_DigestUpdate(state_->context, bytes.data(), bytes.size()));
}

std::string Sha256::bytes() {
    std::string out(static_cast<std::size_t>(EVP_MD_size(EVP_sha256())), '\0');
    must(EVP_DigestFinal_ex(state_->context, reinterpret_cast<unsigned char*>(out.data()), nullptr));
    return out;
}

Result<std::string> sha256_hex_of_file(const std::string& path) {
    const Result<int> opened = open_input(path);
    if (!opened) return opened.fault();
    const int file = *opened;
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
