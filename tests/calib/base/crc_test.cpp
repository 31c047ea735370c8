#include "calib/base/crc.hpp"

#include <catch2/catch.hpp>
#include <string>

using namespace tipwright;

namespace {

// The definition: one bit after the other.
template <class Word>
Word bit_by_bit(std::string_view bytes, Word polynomial, Word start) {
    Word crc = start;
    for (const char c : bytes) {
        crc = static_cast<Word>(crc ^ static_cast<unsigned char>(c));
        for (int bit = 0; bit < 8; ++bit)
            crc = static_cast<Word>((crc >> 1) ^ ((crc & 1) != 0 ? polynomial : 0));
    }
    return crc;
}

}  // namespace

// Check values as catalogued for CRC-32/ISO-HDLC (CBF43926, its register inverted at the end) and
// CRC-16/MODBUS (4B37); from memory.
TEST_CASE("checksums have their check values") {
    constexpr std::string_view digits = "123456789";
    CHECK(static_cast<std::uint32_t>(~crc_of<std::uint32_t, 0xEDB88320>(digits, 0xFFFFFFFF)) == 0xCBF43926);
    CHECK(crc_of<std::uint16_t, 0xA001>(digits, 0xFFFF) == 0x4B37);
}

TEST_CASE("checksums of any length are those of the definition, bit by bit") {
    std::string bytes;
    for (int length = 0; length <= 70; ++length) {
        INFO(length << " bytes");
        CHECK(crc_of<std::uint32_t, 0xEDB88320>(bytes, 0xFFFFFFFF) ==
              bit_by_bit<std::uint32_t>(bytes, 0xEDB88320, 0xFFFFFFFF));
        CHECK(crc_of<std::uint16_t, 0xA001>(bytes, 0xFFFF) ==
              bit_by_bit<std::uint16_t>(bytes, 0xA001, 0xFFFF));
        bytes += static_cast<char>(length * 37 + 200);
    }
}
