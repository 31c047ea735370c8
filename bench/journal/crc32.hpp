// CRC-32 as in IEEE 802.3 and zlib (reflected polynomial EDB88320, check value CBF43926): guards each
// line of the journal against a flipped, lost or added byte.
#pragma once

#include <cstdint>
#include <string_view>

namespace tipwright::bench {

std::uint32_t crc32(std::string_view bytes);

}  // namespace tipwright::bench
