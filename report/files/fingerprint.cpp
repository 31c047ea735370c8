#include "report/files/fingerprint.hpp"

#include <openssl/sha.h>
#include <sodium.h>

#include <array>
#include <stdexcept>

namespace tipwright::report {

std::string sha256_hex(std::string_view bytes) {
    std::array<unsigned char, SHA256_DIGEST_LENGTH> digest{};
    if (SHA256(reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size(), digest.data()) == nullptr)
        throw std::runtime_error("SHA-256 is not to be had from libcrypto");
    std::string out(2 * digest.size() + 1, '\0');
    sodium_bin2hex(out.data(), out.size(), digest.data(), digest.size());
    out.pop_back();  // the terminating zero
    return out;
}

}  // namespace tipwright::report
