// Drawing: a surface for text, lines and charts, written by a backend: pages of a PDF (canvas.hpp) or a
// picture (svg.hpp). Lengths in points (1/72 inch), origin at the top left, y downwards. Text is UTF-8.
#pragma once

#include <string_view>
#include <vector>

namespace tipwright::report::certificate {

enum class Face { regular, bold };

struct Colour {
    double red = 0;
    double green = 0;
    double blue = 0;
};
constexpr Colour grey(double level) {
    return {level, level, level};
}
inline constexpr Colour black{};
inline constexpr Colour ink{0.08, 0.20, 0.38};  // headings and rules; never carries a meaning

struct Style {
    Face face = Face::regular;
    double size = 8.6;
    Colour colour = black;
    bool slanted = false;  // symbols of quantities (ISO 80000-1:2022, 7.1.2, from memory)
};

struct Stroke {
    double width = 0.6;
    Colour colour = black;
    std::vector<unsigned> dash;  // points on, points off; empty: solid
};

struct Point {
    double x = 0;
    double y = 0;
};

class Drawing {
public:
    virtual ~Drawing() = default;

    virtual double text_width(std::string_view text, const Style& style) = 0;
    virtual void text(double x, double baseline, std::string_view text, const Style& style) = 0;
    // Reading upwards, centred on x, y.
    virtual void text_upwards(double x, double y, std::string_view text, const Style& style) = 0;

    virtual void polyline(const std::vector<Point>& points, const Stroke& stroke) = 0;
    virtual void rectangle(double x, double y, double width, double height, const Stroke& stroke) = 0;
    virtual void fill(const std::vector<Point>& outline, Colour colour) = 0;
    virtual void circle(Point centre, double radius, const Stroke& stroke, bool filled) = 0;
    virtual void outline(const std::vector<Point>& points, const Stroke& stroke, bool filled) = 0;

    // What is drawn between the two stays within the rectangle.
    virtual void begin_clip(double x, double y, double width, double height) = 0;
    virtual void end_clip() = 0;

    void line(Point from, Point to, const Stroke& stroke) { polyline({from, to}, stroke); }
    void fill_rectangle(double x, double y, double width, double height, Colour colour) {
        fill({{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}, colour);
    }
};

}  // namespace tipwright::report::certificate
