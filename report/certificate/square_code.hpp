// The square code (QR) of a seal, drawn on certificate and label. The quiet zone around it is the caller's.
#pragma once

#include "report/certificate/canvas.hpp"
#include "report/seal/qr.hpp"

namespace tipwright::report::certificate {

// Upper left corner and length of a side, in points.
void draw_square_code(Canvas& canvas, const seal::QrMatrix& code, double x, double y, double size);

}  // namespace tipwright::report::certificate
