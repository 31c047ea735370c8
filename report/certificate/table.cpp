#include "report/certificate/table.hpp"

#include <algorithm>

#include "report/certificate/column_widths.hpp"
#include "report/certificate/text_block.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr double pad_y = 1.3;

class TableDrawer {
public:
    TableDrawer(Flow& flow, const Table& table, char decimal_sign)
        : flow_(flow), table_(table), decimal_sign_(decimal_sign) {
        heading_style_ = table.style;
        heading_style_.face = Face::bold;
        heading_style_.size *= 0.96;
        place_columns();
        measure_numbers();
    }

    void draw() {
        if (table_.rows.empty()) return;
        start_page();
        const Part table(flow_.canvas(), Tag::table);
        if (!table_.caption.empty()) {
            const Part caption(flow_.canvas(), Tag::caption);
            flow_.paragraph(table_.caption, table_.caption_style);
        }
        flow_.space(2);
        draw_heading();
        std::string group;
        for (std::size_t i = 0; i < table_.rows.size(); ++i) {
            const TableRow& row = table_.rows[i];
            const bool within_group = table_.groups && row.cells.front().empty();
            if (!within_group) group = row.cells.front();
            // The last row takes the one before it along: none stands alone on a page.
            double needed = height_of(row);
            if (i > 0 && i + 2 == table_.rows.size()) needed += height_of(table_.rows.back());
            if (needed <= flow_.room()) {
                draw_row(row);
                continue;
            }
            close();
            flow_.new_page();
            flow_.canvas().decoration(true);  // once is enough for who hears it
            draw_heading();
            flow_.canvas().decoration(false);
            TableRow first = row;
            if (within_group) first.cells.front() = group;
            draw_row(first);
        }
        close();
        flow_.space(6);
    }

private:
    // A table that fits a page is not torn; a longer one begins where it stands, if a few rows do.
    void start_page() {
        constexpr std::size_t few = 6;
        double all = heading_height() + 4;
        if (!table_.caption.empty())
            all += flow_.height_of(table_.caption, table_.caption_style, flow_.width()) +
                   table_.caption_style.size;
        double some = all;
        for (std::size_t i = 0; i < table_.rows.size(); ++i) {
            const double height = height_of(table_.rows[i]);
            all += height;
            if (i < few) some += height;
        }
        flow_.need(all <= flow_.page_room() ? all : some);
    }

    struct Place {
        double x = 0;
        double width = 0;
        double before_sign = 0;  // widest part before the decimal sign, and from it on
        double after_sign = 0;
    };

    Flow& flow_;
    const Table& table_;
    char decimal_sign_;
    Style heading_style_;
    std::vector<Place> places_;

    void place_columns() {
        double x = flow_.left();
        for (const double width : column_widths(flow_.canvas(), table_, heading_style_, flow_.width())) {
            places_.push_back({x, width, 0, 0});
            x += width;
        }
    }

    // "12,3" into "12" and ",3". Text without digits is not a number and is centred.
    std::pair<std::string, std::string> split(const std::string& cell) const {
        const std::size_t at = cell.find(decimal_sign_);
        if (at == std::string::npos) return {cell, ""};
        return {cell.substr(0, at), cell.substr(at)};
    }
    static bool is_number(const std::string& cell) {
        return cell.find_first_of("0123456789") != std::string::npos && cell.find(' ') == std::string::npos;
    }

    void measure_numbers() {
        for (const TableRow& row : table_.rows) {
            for (std::size_t i = 0; i < row.cells.size(); ++i) {
                if (table_.columns[i].align != Align::number || !is_number(row.cells[i])) continue;
                const auto [before, after] = split(row.cells[i]);
                const Style style = style_of_row(table_, row);
                places_[i].before_sign =
                    std::max(places_[i].before_sign, flow_.canvas().text_width(before, style));
                places_[i].after_sign =
                    std::max(places_[i].after_sign, flow_.canvas().text_width(after, style));
            }
        }
    }

    std::vector<std::string> lines_of(const std::string& cell, std::size_t column, const Style& style) const {
        return wrap(flow_.canvas(), cell, style, places_[column].width - 2 * column_pad_x);
    }

    double heading_height() const {
        std::size_t lines = 1;
        for (std::size_t i = 0; i < table_.columns.size(); ++i)
            lines = std::max(lines, lines_of(table_.columns[i].heading, i, heading_style_).size());
        return static_cast<double>(lines) * line_height(heading_style_) + 2 * pad_y;
    }

    double height_of(const TableRow& row) const {
        std::size_t lines = 1;
        for (std::size_t i = 0; i < row.cells.size(); ++i)
            lines = std::max(lines, lines_of(row.cells[i], i, style_of_row(table_, row)).size());
        return static_cast<double>(lines) * line_height(table_.style) + 2 * pad_y;
    }

    void draw_lines(const std::vector<std::string>& lines, std::size_t column, double top,
                    const Style& style) {
        const Place& place = places_[column];
        const Align align = table_.columns[column].align;
        for (std::size_t i = 0; i < lines.size(); ++i) {
            const double baseline = top + style.size + static_cast<double>(i) * line_height(style);
            double x = place.x + column_pad_x;
            if (align != Align::left)
                x = place.x + (place.width - rich_width(flow_.canvas(), lines[i], style)) / 2;
            draw_rich(flow_.canvas(), x, baseline, i + 1 < lines.size() ? lines[i] + " " : lines[i], style);
        }
    }

    void draw_heading() {
        const double height = heading_height();
        const double y = flow_.y();
        flow_.canvas().fill_rectangle(flow_.left(), y, flow_.width(), height, grey(0.93));
        flow_.canvas().line({flow_.left(), y}, {flow_.right(), y}, {0.8, black, {}});
        flow_.canvas().line({flow_.left(), y + height}, {flow_.right(), y + height}, {0.5, black, {}});
        const Part row(flow_.canvas(), Tag::row);
        for (std::size_t i = 0; i < table_.columns.size(); ++i) {
            const Part cell(flow_.canvas(), Tag::heading_cell);
            draw_lines(lines_of(table_.columns[i].heading, i, heading_style_), i, y + pad_y, heading_style_);
        }
        flow_.space(height);
    }

    void draw_row(const TableRow& row) {
        const Style style = style_of_row(table_, row);
        const double top = flow_.y() + pad_y;
        if (row.rule_above)
            flow_.canvas().line({flow_.left(), flow_.y()}, {flow_.right(), flow_.y()}, {0.5, black, {}});
        const Part part(flow_.canvas(), Tag::row);
        for (std::size_t i = 0; i < row.cells.size(); ++i) {
            const Part part_of_cell(flow_.canvas(), Tag::cell);
            const std::string& cell = row.cells[i];
            if (table_.columns[i].align != Align::number || !is_number(cell)) {
                draw_lines(lines_of(cell, i, style), i, top, style);
                continue;
            }
            const Place& place = places_[i];
            const double sign_x =
                place.x + (place.width - place.before_sign - place.after_sign) / 2 + place.before_sign;
            const auto [before, after] = split(cell);
            const double width = flow_.canvas().text_width(before, style);
            flow_.canvas().text(sign_x - width, top + style.size, cell, style);
        }
        flow_.space(height_of(row));
        flow_.canvas().line({flow_.left(), flow_.y()}, {flow_.right(), flow_.y()}, {0.25, grey(0.7), {}});
    }

    void close() {
        flow_.canvas().line({flow_.left(), flow_.y()}, {flow_.right(), flow_.y()}, {0.8, black, {}});
    }
};

}  // namespace

Style style_of_row(const Table& table, const TableRow& row) {
    Style style = table.style;
    if (row.bold) style.face = Face::bold;
    return style;
}

void draw_table(Flow& flow, const Table& table, char decimal_sign) {
    TableDrawer(flow, table, decimal_sign).draw();
}

}  // namespace tipwright::report::certificate
