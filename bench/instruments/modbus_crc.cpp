#include "bench/instruments/modbus_crc.hpp"

#include <boost/crc.hpp>

namespace tipwright::bench {

std::uint16_t crc16_modbus(std::string_view bytes) {
    // The polynomial as it is usually printed; reflected it is A001.
    boost::crc_optimal<16, 0x8005, 0xFFFF, 0, true, true> crc;
    crc.process_bytes(bytes.data(), bytes.size());
    return static_cast<std::uint16_t>(crc.checksum());
}

}  // namespace tipwright::bench
