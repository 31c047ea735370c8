#include "report/files/fingerprint.hpp"

#include <sodium.h>

#include <array>

namespace tipwright::report {

std::string sha256_hex(std::string_view bytes) {
    std::array<unsigned char, crypto_hash_sha256_BYTES> digest{};
    crypto_hash_sha256(digest.data(), reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
    std::string out(2 * digest.size() + 1, '\0');
    sodium_bin2hex(out.data(), out.size(), digest.data(), digest.size());
    out.pop_back();  // the terminating zero
    return out;
}

}  // namespace tipwright::report
