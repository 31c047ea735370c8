#include "report/certificate/svg.hpp"

#include <cmath>

#include "calib/base/ascii.hpp"
#include "calib/base/rounding.hpp"
#include "report/files/xml_text.hpp"

namespace tipwright::report::certificate {

namespace {

// Stands for the id until finish() knows it; no text can hold it, control characters are left out.
constexpr char id_mark = '\x01';

// Hundredths of a point are finer than any screen.
std::string number(double value) {
    if (!std::isfinite(value)) return "0";
    std::string text = calib::fixed(value, 2);
    while (text.ends_with('0')) text.pop_back();
    if (text.ends_with('.')) text.pop_back();
    return text;
}

std::string points_text(const std::vector<Point>& points) {
    std::string out;
    for (const Point& point : points) {
        if (!out.empty()) out += ' ';
        out += number(point.x) + ',' + number(point.y);
    }
    return out;
}

std::string hex_colour(Colour colour) {
    std::string out = "#";
    for (const double part : {colour.red, colour.green, colour.blue})
        append_hex(out, static_cast<std::uint32_t>(std::lround(255 * std::min(std::max(part, 0.0), 1.0))), 2);
    return out;
}

bool is_ground(Colour colour) {
    return colour.red >= 1 && colour.green >= 1 && colour.blue >= 1;
}

// How much a colour stands out from white, 0 to 1.
double strength(Colour colour) {
    return 1 - (colour.red + colour.green + colour.blue) / 3;
}

}  // namespace

Picture::Picture(Drawing& measure, double width, double height, Theme theme)
    : measure_(measure), width_(width), height_(height), theme_(theme) {}

double Picture::text_width(std::string_view text, const Style& style) {
    return measure_.text_width(text, style);
}

std::string Picture::fill_of(Colour colour) const {
    if (theme_ == Theme::paper) return " fill=\"" + hex_colour(colour) + "\"";
    if (is_ground(colour)) return " class=\"surface\"";
    const double strong = strength(colour);
    return strong >= 0.99 ? " fill=\"currentColor\""
                          : " fill=\"currentColor\" fill-opacity=\"" + number(strong) + "\"";
}

std::string Picture::stroke_of(const Stroke& stroke) const {
    std::string out = " stroke-width=\"" + number(stroke.width) + "\"";
    if (theme_ == Theme::paper) {
        out += " stroke=\"" + hex_colour(stroke.colour) + "\"";
    } else {
        out += " stroke=\"currentColor\"";
        const double strong = strength(stroke.colour);
        if (strong < 0.99) out += " stroke-opacity=\"" + number(strong) + "\"";
    }
    if (!stroke.dash.empty()) {
        out += " stroke-dasharray=\"";
        for (std::size_t i = 0; i < stroke.dash.size(); ++i)
            out += (i > 0 ? " " : "") + std::to_string(stroke.dash[i]);
        out += '"';
    }
    return out;
}

std::string Picture::filling(const Stroke& stroke, bool filled) const {
    return fill_of(filled ? stroke.colour : grey(1)) + stroke_of(stroke);
}

void Picture::text(double x, double baseline, std::string_view text, const Style& style) {
    if (text.empty()) return;
    body_ += "<text x=\"" + number(x) + "\" y=\"" + number(baseline) + "\" font-size=\"" +
             number(style.size) + "\"" + (style.face == Face::bold ? " font-weight=\"bold\"" : "") +
             (style.slanted ? " font-style=\"italic\"" : "") + fill_of(style.colour) + ">" +
             xml_escaped(text, Apostrophe::replaced) + "</text>\n";
}

void Picture::text_upwards(double x, double y, std::string_view text, const Style& style) {
    body_ += "<text text-anchor=\"middle\" transform=\"translate(" + number(x + 0.35 * style.size) + " " +
             number(y) + ") rotate(-90)\" font-size=\"" + number(style.size) + "\"" +
             (style.face == Face::bold ? " font-weight=\"bold\"" : "") + fill_of(style.colour) + ">" +
             xml_escaped(text, Apostrophe::replaced) + "</text>\n";
}

void Picture::polyline(const std::vector<Point>& points, const Stroke& stroke) {
    if (points.size() < 2) return;
    body_ += "<polyline fill=\"none\"" + stroke_of(stroke) + " points=\"" + points_text(points) + "\"/>\n";
}

void Picture::rectangle(double x, double y, double width, double height, const Stroke& stroke) {
    body_ += "<rect fill=\"none\" x=\"" + number(x) + "\" y=\"" + number(y) + "\" width=\"" + number(width) +
             "\" height=\"" + number(height) + "\"" + stroke_of(stroke) + "/>\n";
}

void Picture::fill(const std::vector<Point>& outline, Colour colour) {
    if (outline.size() < 3) return;
    body_ += "<polygon" + fill_of(colour) + " points=\"" + points_text(outline) + "\"/>\n";
}

void Picture::circle(Point centre, double radius, const Stroke& stroke, bool filled) {
    body_ += "<circle cx=\"" + number(centre.x) + "\" cy=\"" + number(centre.y) + "\" r=\"" + number(radius) +
             "\"" + filling(stroke, filled) + "/>\n";
}

void Picture::outline(const std::vector<Point>& points, const Stroke& stroke, bool filled) {
    body_ += "<polygon" + filling(stroke, filled) + " points=\"" + points_text(points) + "\"/>\n";
}

void Picture::begin_clip(double x, double y, double width, double height) {
    const std::string name = std::string(1, id_mark) + std::to_string(++clip_count_);
    clips_ += "<clipPath id=\"" + name + "\"><rect x=\"" + number(x) + "\" y=\"" + number(y) + "\" width=\"" +
              number(width) + "\" height=\"" + number(height) + "\"/></clipPath>\n";
    body_ += "<g clip-path=\"url(#" + name + ")\">\n";
}

void Picture::end_clip() {
    body_ += "</g>\n";
}

std::string Picture::finish(std::string_view title, std::string_view id) const {
    std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 " + number(width_) + " " +
                      number(height_) + "\" role=\"img\"";
    if (theme_ == Theme::paper)
        out += " width=\"" + number(width_) + "pt\" height=\"" + number(height_) + "pt\"";
    else
        out += " class=\"chart\"";
    out += " font-family=\"DejaVu Sans, Verdana, sans-serif\">\n<title>" +
           xml_escaped(title, Apostrophe::replaced) + "</title>\n";
    if (!clips_.empty()) out += "<defs>\n" + clips_ + "</defs>\n";
    if (theme_ == Theme::paper)
        out +=
            "<rect width=\"" + number(width_) + "\" height=\"" + number(height_) + "\" fill=\"#ffffff\"/>\n";
    out += body_ + "</svg>\n";
    std::string named;
    for (const char c : out) {
        if (c == id_mark)
            named += std::string(id) + "-clip";
        else
            named += c;
    }
    return named;
}

}  // namespace tipwright::report::certificate
