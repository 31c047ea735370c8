#include "report/seal/qr.hpp"

#include <qrencode.h>

#include <memory>
#include <string>

namespace tipwright::seal {

Result<QrMatrix> qr_matrix(std::string_view text) {
    const Fault fault{FaultCode::bad_value,
                      "a text of " + std::to_string(text.size()) + " bytes does not fit a QR code", "QR code",
                      ""};
    if (text.empty() || text.size() > 2331 || text.find('\0') != std::string_view::npos) return fault;
    const std::string terminated(text);
    const std::unique_ptr<QRcode, void (*)(QRcode*)> code(
        QRcode_encodeString(terminated.c_str(), 0, QR_ECLEVEL_M, QR_MODE_8, 1), QRcode_free);
    if (!code) return fault;
    QrMatrix out;
    out.side = code->width;
    const auto count = static_cast<std::size_t>(code->width) * static_cast<std::size_t>(code->width);
    out.dark.reserve(count);
    for (std::size_t i = 0; i < count; ++i) out.dark.push_back((code->data[i] & 1) != 0);
    return out;
}

}  // namespace tipwright::seal
