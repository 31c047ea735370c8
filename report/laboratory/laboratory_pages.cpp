#include "report/laboratory/laboratory_pages.hpp"

#include "report/certificate/page_foot.hpp"
#include "report/certificate/pdf_finish.hpp"

namespace tipwright::report {

using namespace certificate;

void draw_laboratory_title(Flow& flow, const Words& words, const LaboratoryTitle& title) {
    flow.set_y(13 * mm);
    flow.paragraph(title.title, {Face::bold, 18, ink});
    flow.paragraph(title.subtitle, {Face::regular, 10, black});
    std::string text = title.standing;
    if (title.invented) text += "\n" + words.text("mark.invented");
    if (title.origin == Origin::virtual_bench) text += "\n" + words.text("mark.virtual_bench");
    if (title.origin == Origin::supplied_data) text += "\n" + words.text("mark.supplied_data");
    const Style style{Face::bold, 8.4, black};
    const double height = flow.height_of(text, style, flow.width() - 16) + 9;
    flow.space(3);
    flow.canvas().rectangle(flow.left(), flow.y(), flow.width(), height, {1.2, black, {}});
    flow.draw_text(text, style, flow.left() + 8, flow.y() + 4, flow.width() - 16);
    flow.space(height + 6);
}

Result<std::string> finish_laboratory(Canvas& canvas, Flow& flow, const Words& words,
                                      const std::string& title, const std::string& date) {
    canvas.decoration(true);
    draw_page_feet(flow, words, title);
    const auto drawn = canvas.finish();
    if (!drawn) return drawn.fault();
    DocumentInfo info;
    info.title = title;
    info.creator = "tipwright";
    info.language = words.language();
    info.date = date;
    return finish_pdf(*drawn, {}, info, canvas.structure());
}

}  // namespace tipwright::report
