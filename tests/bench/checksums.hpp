// Lines and frames with the checksum that an instrument would add.
#pragma once

#include <cstdint>
#include <cstdio>
#include <string>

#include "bench/instruments/modbus_crc.hpp"

namespace tipwright::test {

using namespace bench;

// The tip counter's line: CRC-16/MODBUS in four hexadecimal digits.
inline std::string with_checksum(const std::string& body) {
    char tail[8];
    std::snprintf(tail, sizeof tail, " *%04X", crc16_modbus(body));
    return body + tail + "\r\n";
}

// A frame of Modbus RTU: the low byte first.
inline std::string with_crc(std::string frame) {
    const std::uint16_t crc = crc16_modbus(frame);
    frame += static_cast<char>(crc & 0xFF);
    frame += static_cast<char>(crc >> 8);
    return frame;
}

}  // namespace tipwright::test
