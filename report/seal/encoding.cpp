#include "report/seal/encoding.hpp"

#include <openssl/evp.h>
#include <sodium.h>

#include <cstdint>

namespace tipwright::seal {
namespace {

constexpr std::string_view base32_letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

}  // namespace

std::string to_hex(std::string_view bytes) {
    std::string out(2 * bytes.size() + 1, '\0');
    sodium_bin2hex(out.data(), out.size(), reinterpret_cast<const unsigned char*>(bytes.data()),
                   bytes.size());
    out.pop_back();  // the terminating zero
    return out;
}

std::optional<std::string> from_hex(std::string_view text) {
    std::string out(text.size() / 2, '\0');
    std::size_t length = 0;
    const bool read = sodium_hex2bin(reinterpret_cast<unsigned char*>(out.data()), out.size(), text.data(),
                                     text.size(), nullptr, &length, nullptr) == 0;
    // Capital digits are read as well; one text only stands for any bytes.
    if (!read || to_hex(out) != text) return std::nullopt;
    return out;
}

std::string to_base32(std::string_view bytes) {
    std::string out;
    out.reserve((bytes.size() * 8 + 4) / 5);
    std::uint32_t bits = 0;
    int held = 0;
    for (const char c : bytes) {
        bits = (bits << 8) | static_cast<unsigned char>(c);
        held += 8;
        while (held >= 5) {
            held -= 5;
            out.push_back(base32_letters[(bits >> held) & 31]);
        }
    }
    if (held > 0) out.push_back(base32_letters[(bits << (5 - held)) & 31]);
    return out;
}

std::optional<std::string> from_base32(std::string_view text) {
    std::string out;
    std::uint32_t bits = 0;
    int held = 0;
    for (const char c : text) {
        const std::size_t value = base32_letters.find(c);
        if (value == std::string_view::npos) return std::nullopt;
        bits = ((bits << 5) | static_cast<std::uint32_t>(value)) & 0xFFFFU;
        held += 5;
        if (held >= 8) {
            held -= 8;
            out.push_back(static_cast<char>((bits >> held) & 0xFF));
        }
    }
    // Left-over bits must be zero and too few for a letter of their own.
    if (to_base32(out) != text) return std::nullopt;
    return out;
}

std::string to_base64(std::string_view bytes) {
    // Nothing secret is written so: libsodium's, which takes the same time for all bytes, takes ten times as
    // long.
    std::string out((bytes.size() + 2) / 3 * 4 + 1, '\0');
    EVP_EncodeBlock(reinterpret_cast<unsigned char*>(out.data()),
                    reinterpret_cast<const unsigned char*>(bytes.data()), static_cast<int>(bytes.size()));
    out.pop_back();  // the terminating zero
    return out;
}

std::optional<std::string> from_base64(std::string_view text) {
    std::string out(text.size() / 4 * 3 + 3, '\0');
    std::size_t length = 0;
    const char* end = nullptr;
    if (sodium_base642bin(reinterpret_cast<unsigned char*>(out.data()), out.size(), text.data(), text.size(),
                          "\n", &length, &end, sodium_base64_VARIANT_ORIGINAL) != 0 ||
        end != text.data() + text.size())
        return std::nullopt;
    out.resize(length);
    return out;
}

}  // namespace tipwright::seal
