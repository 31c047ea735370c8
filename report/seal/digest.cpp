#include "report/seal/digest.hpp"

#include <openssl/evp.h>

#include <stdexcept>

#include "report/files/streams.hpp"
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
    Sha256 digest;
    const Outcome read = read_pieces(path, [&](std::string_view piece) -> Outcome {
        digest.add(piece);
        return Done{};
    });
    if (!read) return read.fault();
    return to_hex(digest.bytes());
}

}  // namespace tipwright::seal
