#include "bench/journal/crc32.hpp"

#include <array>
#include <cstddef>

namespace tipwright::bench {

namespace {

constexpr std::size_t slices = 8;
using Tables = std::array<std::array<std::uint32_t, 256>, slices>;

// tables[k][b]: the effect of byte b followed by k zero bytes; eight bytes are then folded in at once.
constexpr Tables make_tables() {
    Tables tables{};
    for (std::uint32_t byte = 0; byte < 256; ++byte) {
        std::uint32_t crc = byte;
        for (int bit = 0; bit < 8; ++bit) crc = (crc >> 1) ^ ((crc & 1u) ? 0xEDB88320u : 0u);
        tables[0][byte] = crc;
    }
    for (std::uint32_t byte = 0; byte < 256; ++byte) {
        for (std::size_t k = 1; k < slices; ++k) {
            const std::uint32_t shorter = tables[k - 1][byte];
            tables[k][byte] = (shorter >> 8) ^ tables[0][shorter & 0xFFu];
        }
    }
    return tables;
}

constexpr Tables tables = make_tables();

std::uint32_t little_endian(const char* bytes) {
    std::uint32_t word = 0;
    for (int i = 3; i >= 0; --i) word = (word << 8) | static_cast<unsigned char>(bytes[i]);
    return word;
}

}  // namespace

std::uint32_t crc32(std::string_view bytes) {
    std::uint32_t crc = 0xFFFFFFFFu;
    const char* at = bytes.data();
    std::size_t left = bytes.size();
    for (; left >= 8; at += 8, left -= 8) {
        const std::uint32_t low = crc ^ little_endian(at);
        const std::uint32_t high = little_endian(at + 4);
        crc = tables[7][low & 0xFFu] ^ tables[6][(low >> 8) & 0xFFu] ^ tables[5][(low >> 16) & 0xFFu] ^
              tables[4][low >> 24] ^ tables[3][high & 0xFFu] ^ tables[2][(high >> 8) & 0xFFu] ^
              tables[1][(high >> 16) & 0xFFu] ^ tables[0][high >> 24];
    }
    for (; left > 0; ++at, --left)
        crc = (crc >> 8) ^ tables[0][(crc ^ static_cast<unsigned char>(*at)) & 0xFFu];
    return crc ^ 0xFFFFFFFFu;
}

}  // namespace tipwright::bench
