#include "bench/instruments/modbus_crc.hpp"

#include "calib/base/crc.hpp"

namespace tipwright::bench {

std::uint16_t crc16_modbus(std::string_view bytes) {
    return crc_of<std::uint16_t, 0xA001>(bytes, 0xFFFF);
}

}  // namespace tipwright::bench
