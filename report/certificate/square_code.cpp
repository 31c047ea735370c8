#include "report/certificate/square_code.hpp"

namespace tipwright::report::certificate {

namespace {

// No hairline between two rows, however a viewer rounds their edges.
constexpr double overlap = 0.02;

}  // namespace

void draw_square_code(Canvas& canvas, const seal::QrMatrix& code, double x, double y, double size) {
    const double module = size / code.side;
    for (int row = 0; row < code.side; ++row) {
        // Runs of dark modules as one rectangle: no hairlines between them.
        for (int column = 0; column < code.side;) {
            int end = column;
            while (end < code.side && code.at(row, end)) ++end;
            if (end > column)
                canvas.fill_rectangle(x + column * module, y + row * module, (end - column) * module,
                                      module + overlap, black);
            column = end + 1;
        }
    }
}

}  // namespace tipwright::report::certificate
