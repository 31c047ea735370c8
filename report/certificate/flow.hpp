// Flow: lays paragraphs, tables and figures down the page and begins a new one when a page is full.
// Lengths in points. Margins of 18 mm left and right; room for the running head and the foot is kept free and
// filled by certificate.cpp when the number of pages is known.
#pragma once

#include <string>
#include <vector>

#include "report/certificate/canvas.hpp"

namespace tipwright::report::certificate {

inline constexpr double mm = 72 / 25.4;

inline constexpr Style body_style{Face::regular, 8.6, black};
inline constexpr Style small_style{Face::regular, 7.2, black};
inline constexpr Style label_style{Face::regular, 7.2, grey(0.35)};
inline constexpr Style strong_style{Face::bold, 8.6, black};
inline constexpr Style heading_style{Face::bold, 10.4, ink};

class Flow {
public:
    explicit Flow(Canvas& canvas);

    Canvas& canvas() { return canvas_; }
    double left() const { return 18 * mm / canvas_.scale(); }
    double right() const { return canvas_.width() - left(); }
    double width() const { return right() - left(); }
    double top() const { return 24 * mm / canvas_.scale(); }
    double bottom() const { return canvas_.height() - 20 * mm / canvas_.scale(); }
    double y() const { return y_; }
    int pages() const { return pages_; }  // begun so far
    // What is left of the page, less the heading that waits.
    double room() const { return bottom() - y_ - waiting_height_; }

    // What a whole page has for something that follows the heading that waits.
    double page_room() const { return bottom() - top() - waiting_height_; }

    void set_y(double y) { y_ = y; }
    void space(double height) { y_ += height; }
    // A new page unless so much room is left; then the heading that waits, if any.
    void need(double height);
    void new_page();

    // Numbered. Waits for what follows, so that it never stands alone at the foot of a page.
    void heading(const std::string& text);
    // A new page under this title; sections are numbered A.1, A.2, ... from here on.
    void begin_annex(const std::string& title);
    void paragraph(const std::string& text, const Style& style = body_style, double indent = 0);
    // With a dot before each.
    void list(const std::vector<std::string>& items, const Style& style = body_style);
    double height_of(const std::string& text, const Style& style, double width);
    // Draws wrapped text with its top at y; returns the y below it. Does not change pages.
    double draw_text(const std::string& text, const Style& style, double x, double y, double width);

private:
    Canvas& canvas_;
    double y_ = 0;
    int pages_ = 0;
    int section_ = 0;
    std::string section_prefix_;
    std::string waiting_heading_;
    double waiting_height_ = 0;
};

}  // namespace tipwright::report::certificate
