#include "report/certificate/page_foot.hpp"

#include <string>

#include "report/certificate/canvas.hpp"

namespace tipwright::report::certificate {

PageFoot draw_page_foot(Flow& flow, const Words& words, int page, int pages) {
    Canvas& canvas = flow.canvas();
    const double y = canvas.height() - 15 * mm;
    canvas.line({flow.left(), y}, {flow.right(), y}, {0.4, grey(0.4), {}});
    const std::string count =
        words.text("page.foot", {{"page", std::to_string(page + 1)}, {"pages", std::to_string(pages)}});
    const double count_width = canvas.text_width(count, strong_style);
    canvas.text(flow.right() - count_width, y + 11, count, strong_style);
    return {y + 3, flow.width() - count_width - 12};
}

void draw_page_feet(Flow& flow, const Words& words, const std::string& line) {
    Canvas& canvas = flow.canvas();
    const Style style{Face::regular, 6.8, grey(0.25)};
    const int pages = canvas.page_count();
    for (int page = 0; page < pages; ++page) {
        canvas.select_page(page);
        const auto [y, width] = draw_page_foot(flow, words, page, pages);
        flow.draw_text(line, style, flow.left(), y, width);
    }
}

}  // namespace tipwright::report::certificate
