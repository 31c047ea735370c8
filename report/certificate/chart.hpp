// Chart: points with uncertainty bars, curves, a band, and limits, drawn in vectors. Every kind of line or
// marker differs in shape and is named in the legend; nothing is told by colour alone.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "report/certificate/axis.hpp"
#include "report/certificate/flow.hpp"

namespace tipwright::report::certificate {

enum class Marker { circle, square, triangle, diamond };

struct ChartPoint {
    double x = 0;
    double y = 0;
    double U = 0;  // half length of the bar
};

struct Series {
    std::string legend;
    Marker marker = Marker::circle;
    bool filled = true;
    std::vector<ChartPoint> points;
    double shift = 0;  // its points are drawn so far right of their places: they would lie over others
};

struct Curve {
    std::string legend;
    Stroke stroke;
    std::vector<Point> points;
};

struct Band {
    std::string legend;
    std::vector<Point> lower;
    std::vector<Point> upper;
};

struct LimitSpan {
    double from = 0;
    double to = 0;
    double low = 0;
    double high = 0;
};

struct Chart {
    std::string x_title;
    std::string y_title;
    Axis x;
    Axis y;
    std::vector<Series> series;
    std::vector<Curve> curves;
    std::vector<Band> bands;
    std::vector<LimitSpan> limits;
    std::string limit_legend;
    bool zero_line = false;
    std::string words;  // for who cannot see it
};

using Localise = std::function<std::string(const std::string&)>;

struct ChartPlace {
    double left = 0;
    double right = 0;
    double top = 0;
    double height = 0;  // titles and legend included
};

// Of the rows above the chart, in that place.
double legend_height(Drawing& measure, const ChartPlace& place, const Chart& chart);
void draw_chart(Drawing& drawing, const ChartPlace& place, const Chart& chart, const Localise& number);
// At the flow's place, over its width.
void draw_chart(Flow& flow, const Chart& chart, double height, const Localise& number);

}  // namespace tipwright::report::certificate
