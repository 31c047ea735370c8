// QR code of a short text as a square of modules (ISO/IEC 18004), error correction level M, by libqrencode.
// The drawer adds the quiet zone of four modules on every side.
#pragma once

#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::seal {

struct QrMatrix {
    int side = 0;            // modules a side
    std::vector<bool> dark;  // row by row from the top
    bool at(int row, int column) const {
        return dark[static_cast<std::size_t>(row) * static_cast<std::size_t>(side) +
                    static_cast<std::size_t>(column)];
    }
};

// Fault: bad_value for an empty text or one that does not fit a code of 40 x 4 + 17 modules.
Result<QrMatrix> qr_matrix(std::string_view text);

}  // namespace tipwright::seal
