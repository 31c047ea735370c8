// CRC-16 of Modbus over serial line (V1.02, 6.2.2): reflected polynomial A001, start FFFF, check value 4B37.
#pragma once

#include <cstdint>
#include <string_view>

namespace tipwright::bench {

std::uint16_t crc16_modbus(std::string_view bytes);

}  // namespace tipwright::bench
