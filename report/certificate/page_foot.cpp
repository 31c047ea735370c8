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

}  // namespace tipwright::report::certificate
