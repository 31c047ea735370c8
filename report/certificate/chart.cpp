#include "report/certificate/chart.hpp"

#include <algorithm>
#include <cmath>

#include "report/certificate/text_block.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr double marker_radius = 2.3;
constexpr double legend_sample = 22;
constexpr double legend_gap = 14;
constexpr double legend_indent = 24;
constexpr double legend_row = 11.5;

const Stroke limit_stroke{0.9, black, {6, 2}};
const Stroke bar_stroke{0.7, black, {}};

void draw_marker(Drawing& canvas, Point at, Marker marker, bool filled) {
    const double r = marker_radius;
    const Stroke stroke{0.8, black, {}};
    switch (marker) {
        case Marker::circle:
            canvas.circle(at, r, stroke, filled);
            break;
        case Marker::square:
            canvas.outline(
                {{at.x - r, at.y - r}, {at.x + r, at.y - r}, {at.x + r, at.y + r}, {at.x - r, at.y + r}},
                stroke, filled);
            break;
        case Marker::triangle:
            canvas.outline(
                {{at.x, at.y - 1.2 * r}, {at.x + 1.1 * r, at.y + 0.8 * r}, {at.x - 1.1 * r, at.y + 0.8 * r}},
                stroke, filled);
            break;
        case Marker::diamond:
            canvas.outline({{at.x, at.y - 1.3 * r},
                            {at.x + 1.3 * r, at.y},
                            {at.x, at.y + 1.3 * r},
                            {at.x - 1.3 * r, at.y}},
                           stroke, filled);
            break;
    }
}

void hatch(Drawing& canvas, double x, double y, double width, double height) {
    if (!(width > 0 && height > 0)) return;
    canvas.begin_clip(x, y, width, height);
    // Lines of one family over the whole page, so that neighbouring areas join.
    constexpr double spacing = 4.5;
    const Stroke stroke{0.35, grey(0.55), {}};
    const double first = std::floor((x + y) / spacing) * spacing;
    for (int k = 0; first + k * spacing <= x + y + width + height; ++k) {
        const double sum = first + k * spacing;
        canvas.line({sum - y, y}, {sum - y - height, y + height}, stroke);
    }
    canvas.end_clip();
}

class ChartDrawer {
public:
    ChartDrawer(Drawing& canvas, const ChartPlace& place, const Chart& chart, const Localise& number)
        : canvas_(canvas), place_(place), chart_(chart), number_(number) {
        const double legend_height = draw_legend(false);
        double widest = 0;
        for (const Tick& tick : chart.y.ticks)
            widest = std::max(widest, canvas_.text_width(number_(tick.label), small_style));
        left_ = place.left + widest + 24;
        right_ = place.right - 6;
        top_ = place.top + legend_height + 5;
        bottom_ = place.top + place.height - 31;
    }

    double legend_height() { return draw_legend(false); }

    void draw() {
        draw_legend(true);
        draw_grid();
        canvas_.begin_clip(left_, top_, right_ - left_, bottom_ - top_);
        for (const Band& band : chart_.bands) draw_band(band);
        draw_limits();
        for (const Curve& curve : chart_.curves) canvas_.polyline(placed(curve.points), curve.stroke);
        canvas_.end_clip();
        canvas_.rectangle(left_, top_, right_ - left_, bottom_ - top_, {0.7, black, {}});
        for (const Series& series : chart_.series) draw_series(series);
        draw_titles();
    }

private:
    Drawing& canvas_;
    const ChartPlace& place_;
    const Chart& chart_;
    const Localise& number_;
    double left_ = 0, right_ = 0, top_ = 0, bottom_ = 0;

    double x_of(double value) const { return left_ + chart_.x.position(value) * (right_ - left_); }
    double y_of(double value) const { return bottom_ - chart_.y.position(value) * (bottom_ - top_); }
    double x_clamped(double value) const { return std::clamp(x_of(value), left_, right_); }
    double y_clamped(double value) const { return std::clamp(y_of(value), top_, bottom_); }

    std::vector<Point> placed(const std::vector<Point>& points) const {
        std::vector<Point> out;
        out.reserve(points.size());
        for (const Point& point : points) out.push_back({x_of(point.x), y_of(point.y)});
        return out;
    }

    void draw_grid() {
        const Stroke fine{0.3, grey(0.82), {}};
        double free_from = -1e9;
        for (const Tick& tick : chart_.x.ticks) {
            const double x = x_of(tick.value);
            if (x < left_ - 0.5 || x > right_ + 0.5) continue;
            canvas_.line({x, bottom_}, {x, bottom_ + (tick.label.empty() ? 2.0 : 3.5)}, {0.6, black, {}});
            if (tick.label.empty()) continue;
            canvas_.line({x, top_}, {x, bottom_}, fine);
            const std::string label = number_(tick.label);
            const double width = canvas_.text_width(label, small_style);
            if (x - width / 2 < free_from) continue;
            canvas_.text(x - width / 2, bottom_ + 11.5, label, small_style);
            free_from = x + width / 2 + 4;
        }
        for (const Tick& tick : chart_.y.ticks) {
            const double y = y_of(tick.value);
            canvas_.line({left_ - 3.5, y}, {left_, y}, {0.6, black, {}});
            canvas_.line({left_, y}, {right_, y}, fine);
            const std::string label = number_(tick.label);
            canvas_.text(left_ - 6 - canvas_.text_width(label, small_style), y + 2.6, label, small_style);
        }
        if (chart_.zero_line && chart_.y.low < 0 && chart_.y.high > 0)
            canvas_.line({left_, y_of(0)}, {right_, y_of(0)}, {0.5, grey(0.3), {}});
    }

    void draw_band(const Band& band) {
        std::vector<Point> outline = placed(band.lower);
        const std::vector<Point> upper = placed(band.upper);
        outline.insert(outline.end(), upper.rbegin(), upper.rend());
        canvas_.fill(outline, grey(0.86));
        const Stroke edge{0.4, grey(0.45), {1, 1}};
        canvas_.polyline(placed(band.lower), edge);
        canvas_.polyline(upper, edge);
    }

    void draw_limits() {
        for (const LimitSpan& span : chart_.limits) {
            const double from = x_clamped(std::max(span.from, chart_.x.low));
            const double to = x_clamped(std::min(span.to, chart_.x.high));
            if (!(to > from)) continue;
            const double low = y_clamped(span.low);
            const double high = y_clamped(span.high);
            hatch(canvas_, from, top_, to - from, high - top_);
            hatch(canvas_, from, low, to - from, bottom_ - low);
            canvas_.line({from, low}, {to, low}, limit_stroke);
            canvas_.line({from, high}, {to, high}, limit_stroke);
        }
    }

    void draw_series(const Series& series) {
        for (const ChartPoint& point : series.points) {
            const double x = x_of(point.x) + series.shift;
            const double high = y_clamped(point.y + point.U);
            const double low = y_clamped(point.y - point.U);
            canvas_.line({x, high}, {x, low}, bar_stroke);
            canvas_.line({x - 2.6, high}, {x + 2.6, high}, bar_stroke);
            canvas_.line({x - 2.6, low}, {x + 2.6, low}, bar_stroke);
        }
        for (const ChartPoint& point : series.points)
            draw_marker(canvas_, {x_of(point.x) + series.shift, y_of(point.y)}, series.marker, series.filled);
    }

    void draw_titles() {
        const double width = rich_width(canvas_, chart_.x_title, small_style);
        // Below the middle of what is drawn, where it is not too long for that.
        const double x = std::max(place_.left, std::min((left_ + right_ - width) / 2, place_.right - width));
        draw_rich(canvas_, x, bottom_ + 23, chart_.x_title, small_style);
        canvas_.text_upwards(place_.left + 5, (top_ + bottom_) / 2, chart_.y_title, small_style);
    }

    // Places the entries in rows; returns the height they take.
    double draw_legend(bool visible) {
        const double begin = place_.left + legend_indent;
        double x = begin;
        double y = place_.top;
        const auto entry = [&](const std::string& text, const auto& sample) {
            if (text.empty()) return;
            const double width = legend_sample + 4 + rich_width(canvas_, text, small_style);
            if (x + width > place_.right && x > begin) {
                x = begin;
                y += legend_row;
            }
            // One that is longer than a row goes on in the next.
            std::vector<std::string> lines{text};
            if (x + width > place_.right)
                lines = wrap(canvas_, text, small_style, place_.right - x - legend_sample - 4);
            if (visible) sample(x, y + 5.5);
            for (std::size_t i = 0; i < lines.size(); ++i) {
                if (i > 0) y += legend_row;
                if (visible) draw_rich(canvas_, x + legend_sample + 4, y + 8, lines[i], small_style);
            }
            x = lines.size() > 1 ? place_.right : x + width + legend_gap;
        };
        for (const Series& series : chart_.series)
            entry(series.legend, [&](double sx, double sy) {
                const double middle = sx + legend_sample / 2;
                canvas_.line({middle, sy - 5}, {middle, sy + 5}, bar_stroke);
                canvas_.line({middle - 2.6, sy - 5}, {middle + 2.6, sy - 5}, bar_stroke);
                canvas_.line({middle - 2.6, sy + 5}, {middle + 2.6, sy + 5}, bar_stroke);
                draw_marker(canvas_, {middle, sy}, series.marker, series.filled);
            });
        for (const Curve& curve : chart_.curves)
            entry(curve.legend, [&](double sx, double sy) {
                canvas_.line({sx, sy}, {sx + legend_sample, sy}, curve.stroke);
            });
        for (const Band& band : chart_.bands)
            entry(band.legend, [&](double sx, double sy) {
                canvas_.fill_rectangle(sx, sy - 4, legend_sample, 8, grey(0.86));
                canvas_.line({sx, sy - 4}, {sx + legend_sample, sy - 4}, {0.4, grey(0.45), {1, 1}});
                canvas_.line({sx, sy + 4}, {sx + legend_sample, sy + 4}, {0.4, grey(0.45), {1, 1}});
            });
        if (!chart_.limits.empty())
            entry(chart_.limit_legend, [&](double sx, double sy) {
                hatch(canvas_, sx, sy - 5, legend_sample, 5);
                canvas_.line({sx, sy}, {sx + legend_sample, sy}, limit_stroke);
            });
        return y + legend_row - place_.top;
    }
};

}  // namespace

void draw_chart(Flow& flow, const Chart& chart, double height, const Localise& number) {
    flow.need(height);
    const Part figure(flow.canvas(), Tag::figure, chart.words);
    draw_chart(flow.canvas(), {flow.left(), flow.right(), flow.y(), height}, chart, number);
    flow.space(height);
}

double legend_height(Drawing& measure, const ChartPlace& place, const Chart& chart) {
    return ChartDrawer(measure, place, chart, [](const std::string& plain) { return plain; }).legend_height();
}

void draw_chart(Drawing& drawing, const ChartPlace& place, const Chart& chart, const Localise& number) {
    ChartDrawer(drawing, place, chart, number).draw();
}

}  // namespace tipwright::report::certificate
