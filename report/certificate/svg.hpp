// Picture: a drawing as SVG 1.1. On paper in the colours given, on white; on a page in the page's own colours
// (currentColor in the grey's strength, class "surface" where the ground shows), so that it follows day and
// dark. Widths of text come from another drawing with the same fonts. Names no outside resource.
#pragma once

#include <string>

#include "report/certificate/drawing.hpp"

namespace tipwright::report::certificate {

enum class Theme { paper, page };

class Picture final : public Drawing {
public:
    // Width and height in points. `measure` outlives it.
    Picture(Drawing& measure, double width, double height, Theme theme);

    double text_width(std::string_view text, const Style& style) override;
    void text(double x, double baseline, std::string_view text, const Style& style) override;
    void text_upwards(double x, double y, std::string_view text, const Style& style) override;
    void polyline(const std::vector<Point>& points, const Stroke& stroke) override;
    void rectangle(double x, double y, double width, double height, const Stroke& stroke) override;
    void fill(const std::vector<Point>& outline, Colour colour) override;
    void circle(Point centre, double radius, const Stroke& stroke, bool filled) override;
    void outline(const std::vector<Point>& points, const Stroke& stroke, bool filled) override;
    void begin_clip(double x, double y, double width, double height) override;
    void end_clip() override;

    // The whole document; `title` for who cannot see it. Clips are named after `id`, which is to be unique on
    // the page the picture stands in: letters, digits and hyphens.
    std::string finish(std::string_view title, std::string_view id) const;

private:
    std::string stroke_of(const Stroke& stroke) const;
    std::string fill_of(Colour colour) const;
    std::string filling(const Stroke& stroke, bool filled) const;

    Drawing& measure_;
    double width_;
    double height_;
    Theme theme_;
    std::string clips_;
    int clip_count_ = 0;
    std::string body_;
};

}  // namespace tipwright::report::certificate
