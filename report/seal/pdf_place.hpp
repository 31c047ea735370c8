// What stands in a PDF's /ByteRange, after its first 0, until pdf_signature.hpp puts the true numbers there.
#pragma once

namespace tipwright::seal {

inline constexpr long long byte_range_places[3] = {9999999991, 9999999992, 9999999993};

}  // namespace tipwright::seal
