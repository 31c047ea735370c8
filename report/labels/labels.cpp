#include "report/labels/labels.hpp"

#include <algorithm>
#include <array>

#include "report/certificate/canvas.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/square_code.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

constexpr double points_per_mm = 72 / 25.4;
// Printers do not hit a label's edge, and a code needs four modules of white around it (ISO/IEC 18004).
constexpr double edge_mm = 2;
constexpr double quiet_modules = 4;
constexpr double smallest_size = 4;

constexpr std::array<LabelSheet, 4> sheets{
    {{"a4-3x8", "A4, 24 labels of 70 x 37 mm", 210, 297, 0, 0.5, 70, 37, 70, 37, 3, 8},
     {"a4-3x7", "A4, 21 labels of 63.5 x 38.1 mm", 210, 297, 7.25, 15.15, 63.5, 38.1, 66.04, 38.1, 3, 7},
     {"letter-3x10", "Letter, 30 labels of 2 5/8 x 1 inch", 215.9, 279.4, 4.7625, 12.7, 66.675, 25.4, 69.85,
      25.4, 3, 10},
     {"tape-62", "Tape 62 mm wide, a label each 30 mm", 62, 30, 0, 0, 62, 30, 62, 30, 1, 1}}};

struct Place {
    double x;
    double y;
    double width;
    double height;
};

void draw_code(Canvas& canvas, const seal::QrMatrix& code, const Place& place) {
    const double module = place.width / (code.side + 2 * quiet_modules);
    const double x = place.x + quiet_modules * module;
    const double y = place.y + quiet_modules * module;
    draw_square_code(canvas, code, x, y, code.side * module);
}

// As large as the width allows, down to what can still be read; longer words are then cut by the clip.
void fitted(Canvas& canvas, double x, double baseline, double width, const std::string& text, Style style) {
    while (style.size > smallest_size && canvas.text_width(text, style) > width) style.size -= 0.2;
    canvas.text(x, baseline, text, style);
}

void draw_label(Canvas& canvas, const Label& label, const Place& whole, const Words& words) {
    const double edge = edge_mm * points_per_mm;
    const Place inner{whole.x + edge, whole.y + edge, whole.width - 2 * edge, whole.height - 2 * edge};
    const double code = std::min(inner.height, inner.width * 0.45);
    const Part part(canvas, Tag::paragraph);
    canvas.begin_clip(whole.x, whole.y, whole.width, whole.height);
    draw_code(canvas, label.code, {inner.x + inner.width - code, inner.y, code, code});
    const double width = inner.width - code - edge / 2;
    const double line = inner.height / 8;
    const Style small{Face::regular, std::min(6.0, line * 0.72), black};
    double y = inner.y + line * 1.25;
    fitted(canvas, inner.x, y, width, label.serial, {Face::bold, line * 1.5, black});
    y += line * 1.1;
    fitted(canvas, inner.x, y, width, label.model, small);
    const auto pair = [&](const std::string& name, const std::string& value, Face face) {
        y += line * 1.35;
        fitted(canvas, inner.x, y, width, name + " " + value, {face, line * 0.95, black});
    };
    pair(words.text("instruments.calibrated"), words.short_date(label.calibrated_on), Face::regular);
    if (!label.due_on.empty())
        pair(words.text("instruments.due"), words.short_date(label.due_on), Face::bold);
    y = inner.y + inner.height - line * (label.invented ? 1.2 : 0.2);
    fitted(canvas, inner.x, y, width, label.certificate, small);
    if (label.invented) fitted(canvas, inner.x, y + line, width, words.text("mark.short_invented"), small);
    canvas.end_clip();
}

}  // namespace

std::span<const LabelSheet> label_sheets() {
    return sheets;
}

Result<std::string> labels_pdf(const std::vector<Label>& labels, const LabelSheet& sheet, int first,
                               const Words& words) {
    const int places = sheet.columns * sheet.rows;
    if (!(first >= 1 && first <= places))
        return Fault{FaultCode::bad_value,
                     "the sheet " + std::string(sheet.name) + " has places 1 to " + std::to_string(places),
                     "--first", ""};
    auto canvas = Canvas::open({}, sheet.page_width * points_per_mm, sheet.page_height * points_per_mm);
    if (!canvas) return canvas.fault();
    int place = first - 1;
    (*canvas)->add_page();
    for (const Label& label : labels) {
        if (place == places) {
            (*canvas)->add_page();
            place = 0;
        }
        const int column = place % sheet.columns;
        const int row = place / sheet.columns;
        draw_label(**canvas, label,
                   {(sheet.left + column * sheet.pitch_x) * points_per_mm,
                    (sheet.top + row * sheet.pitch_y) * points_per_mm, sheet.width * points_per_mm,
                    sheet.height * points_per_mm},
                   words);
        ++place;
    }
    const auto pages = (*canvas)->finish();
    if (!pages) return pages.fault();
    DocumentInfo info;
    if (!labels.empty()) info.title = labels.front().serial + ", " + labels.front().certificate;
    info.creator = "tipwright";
    info.language = words.language();
    return finish_pdf(*pages, {}, info, (*canvas)->structure());
}

}  // namespace tipwright::report
