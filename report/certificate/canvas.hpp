// Canvas: pages to draw text and lines on, written as PDF by libharu. Lengths in points (1/72 inch), origin
// at the top left of the page, y downwards. Errors are kept until finish(). Text is UTF-8; a character that
// the font lacks, or whose script needs shaping, makes finish() give a Fault that names it.
#pragma once

#include <filesystem>
#include <memory>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/certificate/drawing.hpp"

namespace tipwright::report::certificate {

// What a part of the page is, for readers that speak or reflow it and for bookmarks (ISO 32000-1
// clause 14.8.4).
enum class Tag {
    title,
    heading,
    paragraph,
    list,
    item,
    label,
    item_body,
    table,
    caption,
    row,
    heading_cell,
    cell,
    figure
};

struct StructureNode {
    Tag tag{};
    int parent = -1;    // index of the node around it; -1: the document
    std::string words;  // a heading's text; what stands for a figure that cannot be seen
    int page = -1;      // 0-based, where it begins; -1: nothing of it was drawn
    double top = 0;     // points from the page's foot, of its first text
    struct Mark {
        int page = 0;
        int id = 0;
    };
    std::vector<Mark> marks;  // marked content of the pages
};

struct Fonts {
    std::filesystem::path regular = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
    std::filesystem::path bold = "/usr/share/fonts/truetype/dejavu/DejaVuSans-Bold.ttf";
};

class Canvas final : public Drawing {
public:
    // `letters`: alone may be drawn, which takes half the time (font_file.hpp); empty: all of the fonts.
    // Faults: file_missing, file_unreadable, file_too_large, damaged (the fonts).
    static Result<std::unique_ptr<Canvas>> open(const Fonts& fonts, double width, double height,
                                                const std::set<char32_t>& letters = {});
    ~Canvas() override;
    Canvas(const Canvas&) = delete;
    Canvas& operator=(const Canvas&) = delete;

    // Of the page, in the canvas's own points: more than the paper has where all is drawn smaller.
    double width() const { return width_ / scale_; }
    double height() const { return height_ / scale_; }
    int page_count() const;
    void add_page();             // and draws on it from now on, at full size
    void select_page(int page);  // 0-based, at full size

    // All that is drawn from now on stands so much smaller on the paper: letters, lines, places.
    void set_scale(double scale) { scale_ = scale; }
    double scale() const { return scale_; }
    // While on, nothing is drawn and no page added: what is asked for can be measured before it is drawn.
    void measure_only(bool on);

    double text_width(std::string_view text, const Style& style) override;
    void text(double x, double baseline, std::string_view text, const Style& style) override;
    void text_upwards(double x, double y, std::string_view text, const Style& style) override;

    void polyline(const std::vector<Point>& points, const Stroke& stroke) override;
    void fill(const std::vector<Point>& outline, Colour colour) override;
    void rectangle(double x, double y, double width, double height, const Stroke& stroke) override;
    void circle(Point centre, double radius, const Stroke& stroke, bool filled) override;
    void outline(const std::vector<Point>& points, const Stroke& stroke, bool filled) override;

    void begin_clip(double x, double y, double width, double height) override;
    void end_clip() override;

    // A picture file (PNG or JPEG bytes) fitted into the rectangle, its shape kept. Fault: damaged.
    Outcome picture(std::string_view bytes, const std::string& name, double x, double y, double width,
                    double height);

    // Text drawn between the two belongs to the part; lines too, if it is a figure. What is drawn outside any
    // part, and everything while decoration() is on (running heads), is left out of the structure.
    void open_part(Tag tag, std::string words = {});
    void close_part();
    bool in_part() const;
    void decoration(bool on);
    const std::vector<StructureNode>& structure() const;

    // Marks of the structure stand in the pages as code_of_mark() says; finish_pdf() writes them out.
    Result<std::string> finish();

private:
    Canvas(double width, double height);
    struct Pdf;
    std::unique_ptr<Pdf> pdf_;
    double width_;
    double height_;
    double scale_ = 1;
};

// A part for as long as this lives.
class Part {
public:
    Part(Canvas& canvas, Tag tag, std::string words = {}) : canvas_(canvas) {
        canvas.open_part(tag, std::move(words));
    }
    ~Part() { canvas_.close_part(); }
    Part(const Part&) = delete;
    Part& operator=(const Part&) = delete;

private:
    Canvas& canvas_;
};

}  // namespace tipwright::report::certificate
