#include "bench/instruments/modbus_crc.hpp"

#include <array>

namespace tipwright::bench {

namespace {

constexpr std::array<std::uint16_t, 256> make_table() {
    std::array<std::uint16_t, 256> table{};
    for (unsigned byte = 0; byte < 256; ++byte) {
        unsigned crc = byte;
        for (int bit = 0; bit < 8; ++bit) crc = (crc >> 1) ^ ((crc & 1u) ? 0xA001u : 0u);
        table[byte] = static_cast<std::uint16_t>(crc);
    }
    return table;
}

constexpr std::array<std::uint16_t, 256> table = make_table();

}  // namespace

std::uint16_t crc16_modbus(std::string_view bytes) {
    unsigned crc = 0xFFFF;
    for (char c : bytes) crc = (crc >> 8) ^ table[(crc ^ static_cast<unsigned char>(c)) & 0xFFu];
    return static_cast<std::uint16_t>(crc);
}

}  // namespace tipwright::bench
