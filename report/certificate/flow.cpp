#include "report/certificate/flow.hpp"

#include <optional>

#include "report/certificate/text_block.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr double above_heading = 10;
constexpr double below_heading = 5;

// From the top of a line to its baseline.
double ascent(const Style& style) {
    return 1.0 * style.size;
}

}  // namespace

Flow::Flow(Canvas& canvas) : canvas_(canvas) {
    new_page();
}

void Flow::new_page() {
    canvas_.add_page();
    ++pages_;
    y_ = top();
}

void Flow::need(double height) {
    if (height > room() && y_ > top()) new_page();
    if (waiting_heading_.empty()) return;
    const std::string heading = std::move(waiting_heading_);
    waiting_heading_.clear();
    waiting_height_ = 0;
    if (y_ > top()) space(above_heading);
    {
        const Part part(canvas_, Tag::heading, heading);
        y_ = draw_text(heading, heading_style, left(), y_, width());
    }
    canvas_.line({left(), y_ + 0.5}, {right(), y_ + 0.5}, {0.7, ink, {}});
    space(below_heading);
}

void Flow::heading(const std::string& text) {
    ++section_;
    waiting_heading_ = section_prefix_ + std::to_string(section_) + "  " + text;
    waiting_height_ = above_heading + height_of(waiting_heading_, heading_style, width()) + below_heading;
}

void Flow::begin_annex(const std::string& title) {
    if (y_ > top()) new_page();
    section_ = 0;
    section_prefix_ = "A.";
    const Style style{Face::bold, 13, ink};
    const Part part(canvas_, Tag::heading, title);
    y_ = draw_text(title, style, left(), y_, width());
}

double Flow::height_of(const std::string& text, const Style& style, double width) {
    return static_cast<double>(wrap(canvas_, text, style, width).size()) * line_height(style);
}

double Flow::draw_text(const std::string& text, const Style& style, double x, double y, double width) {
    std::optional<Part> part;
    if (!canvas_.in_part()) part.emplace(canvas_, Tag::paragraph);
    for (const std::string& line : wrap(canvas_, text, style, width)) {
        // With the blank at which it was cut, for who takes the text out again.
        draw_rich(canvas_, x, y + ascent(style), line + " ", style);
        y += line_height(style);
    }
    return y;
}

void Flow::paragraph(const std::string& text, const Style& style, double indent) {
    const std::vector<std::string> lines = wrap(canvas_, text, style, width() - indent);
    if (!lines.empty())
        need((lines.size() > 1 ? 2 : 1) * line_height(style));  // a heading that waits comes before
    const Part part(canvas_, Tag::paragraph);
    for (std::size_t i = 0; i < lines.size(); ++i) {
        // No single first or last line alone on a page.
        const bool pair = lines.size() > 1 && (i == 0 || i + 2 == lines.size());
        need((pair ? 2 : 1) * line_height(style));
        draw_rich(canvas_, left() + indent, y_ + ascent(style), lines[i] + " ", style);
        y_ += line_height(style);
    }
    space(0.35 * style.size);
}

void Flow::list(const std::vector<std::string>& items, const Style& style) {
    if (items.empty()) return;
    need(2 * line_height(style));
    const Part list(canvas_, Tag::list);
    for (const std::string& item : items) {
        need(2 * line_height(style));
        const Part part(canvas_, Tag::item);
        {
            const Part label(canvas_, Tag::label);
            canvas_.text(left() + 2, y_ + ascent(style), "•", style);
        }
        const Part body(canvas_, Tag::item_body);
        paragraph(item, style, 11);
        space(-0.2 * style.size);
    }
    space(0.3 * style.size);
}

}  // namespace tipwright::report::certificate
