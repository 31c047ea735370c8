// Fingerprint: SHA-256 (FIPS 180-4) of bytes, as 64 lower-case hexadecimal digits. By libcrypto, which uses
// what the processor has for it: an issue hashes some megabytes.
#pragma once

#include <string>
#include <string_view>

namespace tipwright::report {

std::string sha256_hex(std::string_view bytes);

}  // namespace tipwright::report
