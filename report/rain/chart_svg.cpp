// A chart as SVG: the same parts as report/certificate/chart.cpp draws on a page.
#include <cmath>
#include <cstdio>

#include "report/rain/rain_charts.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            default:
                if (static_cast<unsigned char>(c) >= 0x20) out.push_back(c);
        }
    }
    return out;
}

std::string number_text(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.2f", value);
    return text;
}

class Picture {
public:
    Picture(double width, double height, const std::string& words) {
        out_ = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"" + number_text(width) + "\" height=\"" +
               number_text(height) + "\" viewBox=\"0 0 " + number_text(width) + " " + number_text(height) +
               "\" role=\"img\" font-family=\"DejaVu Sans, sans-serif\" font-size=\"11\">\n<title>" +
               escaped(words) + "</title>\n<rect width=\"100%\" height=\"100%\" fill=\"white\"/>\n";
    }
    void line(Point a, Point b, const std::string& look) {
        out_ += "<line x1=\"" + number_text(a.x) + "\" y1=\"" + number_text(a.y) + "\" x2=\"" +
                number_text(b.x) + "\" y2=\"" + number_text(b.y) + "\" " + look + "/>\n";
    }
    void path(const std::vector<Point>& points, bool closed, const std::string& look) {
        out_ += "<path d=\"";
        for (std::size_t i = 0; i < points.size(); ++i)
            out_ += (i == 0 ? "M" : "L") + number_text(points[i].x) + " " + number_text(points[i].y);
        out_ += std::string(closed ? "Z" : "") + "\" " + look + "/>\n";
    }
    void text(double x, double y, const std::string& words, const std::string& look) {
        out_ += "<text x=\"" + number_text(x) + "\" y=\"" + number_text(y) + "\" " + look + ">" +
                escaped(words) + "</text>\n";
    }
    void raw(const std::string& text) { out_ += text; }
    std::string done() { return out_ + "</svg>\n"; }

private:
    std::string out_;
};

std::string stroke_look(const Stroke& stroke) {
    char colour[16];
    const auto part = [](double x) { return static_cast<unsigned>(std::lround(255 * x)); };
    std::snprintf(colour, sizeof colour, "#%02x%02x%02x", part(stroke.colour.red), part(stroke.colour.green),
                  part(stroke.colour.blue));
    std::string out = "fill=\"none\" stroke=\"" + std::string(colour) + "\" stroke-width=\"" +
                      number_text(1.4 * stroke.width) + "\"";
    if (!stroke.dash.empty()) {
        out += " stroke-dasharray=\"";
        for (const unsigned d : stroke.dash) out += std::to_string(d) + " ";
        out += "\"";
    }
    return out;
}

void marker(Picture& picture, Point at, Marker kind, bool filled) {
    constexpr double r = 3;
    const std::string look =
        std::string("stroke=\"black\" stroke-width=\"1\" fill=\"") + (filled ? "black" : "white") + "\"";
    switch (kind) {
        case Marker::circle:
            picture.raw("<circle cx=\"" + number_text(at.x) + "\" cy=\"" + number_text(at.y) + "\" r=\"3\" " +
                        look + "/>\n");
            break;
        case Marker::square:
            picture.path(
                {{at.x - r, at.y - r}, {at.x + r, at.y - r}, {at.x + r, at.y + r}, {at.x - r, at.y + r}},
                true, look);
            break;
        case Marker::triangle:
            picture.path(
                {{at.x, at.y - 1.2 * r}, {at.x + 1.1 * r, at.y + 0.8 * r}, {at.x - 1.1 * r, at.y + 0.8 * r}},
                true, look);
            break;
        case Marker::diamond:
            picture.path({{at.x, at.y - 1.3 * r},
                          {at.x + 1.3 * r, at.y},
                          {at.x, at.y + 1.3 * r},
                          {at.x - 1.3 * r, at.y}},
                         true, look);
            break;
    }
}

}  // namespace

std::string chart_svg(const Chart& chart, double width, double height, const Localise& number) {
    Picture picture(width, height, chart.words);
    const double left = 66, right = width - 16, top = 34, bottom = height - 46;
    const auto x = [&](double value) { return left + chart.x.position(value) * (right - left); };
    const auto y = [&](double value) { return bottom - chart.y.position(value) * (bottom - top); };
    const auto placed = [&](const std::vector<Point>& points) {
        std::vector<Point> out;
        for (const Point& p : points) out.push_back({x(p.x), y(p.y)});
        return out;
    };
    for (const Tick& tick : chart.x.ticks) {
        const double at = x(tick.value);
        picture.line({at, top}, {at, bottom}, "stroke=\"#d8d8d8\"");
        if (!tick.label.empty()) picture.text(at, bottom + 16, number(tick.label), "text-anchor=\"middle\"");
    }
    for (const Tick& tick : chart.y.ticks) {
        const double at = y(tick.value);
        picture.line({left, at}, {right, at}, "stroke=\"#d8d8d8\"");
        if (!tick.label.empty()) picture.text(left - 6, at + 4, number(tick.label), "text-anchor=\"end\"");
    }
    picture.raw("<clipPath id=\"area\"><rect x=\"" + number_text(left) + "\" y=\"" + number_text(top) +
                "\" width=\"" + number_text(right - left) + "\" height=\"" + number_text(bottom - top) +
                "\"/></clipPath>\n<g clip-path=\"url(#area)\">\n");
    for (const Band& band : chart.bands) {
        std::vector<Point> outline = placed(band.upper);
        const std::vector<Point> lower = placed(band.lower);
        outline.insert(outline.end(), lower.rbegin(), lower.rend());
        if (!outline.empty()) picture.path(outline, true, "fill=\"#c8c8c8\" stroke=\"none\"");
    }
    for (const Curve& curve : chart.curves)
        picture.path(placed(curve.points), false, stroke_look(curve.stroke));
    picture.raw("</g>\n");
    picture.path({{left, top}, {right, top}, {right, bottom}, {left, bottom}}, true,
                 "fill=\"none\" stroke=\"black\"");
    double legend = left;
    for (const Curve& curve : chart.curves) {
        if (curve.legend.empty()) continue;
        picture.path({{legend, 16}, {legend + 26, 16}}, false, stroke_look(curve.stroke));
        picture.text(legend + 32, 20, curve.legend, "");
        legend += 60 + 6.6 * static_cast<double>(curve.legend.size());
    }
    for (const Series& series : chart.series) {
        for (const ChartPoint& point : series.points) {
            if (point.U > 0)
                picture.line({x(point.x), y(point.y - point.U)}, {x(point.x), y(point.y + point.U)},
                             "stroke=\"black\"");
            marker(picture, {x(point.x), y(point.y)}, series.marker, series.filled);
        }
        marker(picture, {legend + 5, 16}, series.marker, series.filled);
        picture.text(legend + 14, 20, series.legend, "");
        legend += 40 + 6.6 * static_cast<double>(series.legend.size());
    }
    picture.text((left + right) / 2, height - 10, chart.x_title, "text-anchor=\"middle\"");
    picture.raw("<text transform=\"translate(14 " + number_text((top + bottom) / 2) +
                ") rotate(-90)\" text-anchor=\"middle\">" + escaped(chart.y_title) + "</text>\n");
    return picture.done();
}

}  // namespace tipwright::report
