// Encodings: bytes as text and back. Hex (lower case out, lower case in), base32 and base64 after RFC 4648.
// Reading is strict: exactly one text stands for any bytes, so that a changed character is never overlooked.
// Nothing is returned for text that is not the encoding of some bytes.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace tipwright::seal {

std::string to_hex(std::string_view bytes);
template <std::size_t N>
std::string to_hex(const std::array<unsigned char, N>& bytes) {
    return to_hex({reinterpret_cast<const char*>(bytes.data()), N});
}
std::optional<std::string> from_hex(std::string_view text);

// RFC 4648 section 6, without padding: fits the alphanumeric mode of a QR code.
std::string to_base32(std::string_view bytes);
std::optional<std::string> from_base32(std::string_view text);

// RFC 4648 section 4, with padding. Reading skips line feeds, as databases insert them.
std::string to_base64(std::string_view bytes);
std::optional<std::string> from_base64(std::string_view text);

}  // namespace tipwright::seal
