// Text cut into lines of a width. Breaks at blanks and after hyphens and slashes, but not between a number
// and its unit nor beside an equals sign; a word longer than the line is cut. A subscript stands between
// tildes, the symbol of a quantity, which leans, between guillemets: "‹I›~ref~".
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "report/certificate/drawing.hpp"

namespace tipwright::report::certificate {

// At least one line, even of an empty text. A line feed in the text begins a new line.
std::vector<std::string> wrap(Drawing& canvas, std::string_view text, const Style& style, double width);

// The widest piece of the text that wrap() would not break, were the line wide enough.
double widest_piece(Drawing& canvas, std::string_view text, const Style& style);

// How many lines wrap() makes of a text, asked for many widths and measured once. Widths of at least
// widest_piece().
class Wrapping {
public:
    Wrapping(Drawing& canvas, std::string_view text, const Style& style);
    std::size_t lines(double width) const;
    // The least width, to 0.1 pt, at which it takes no more than so many lines; infinity where none does.
    double least_width(std::size_t most_lines) const;

private:
    struct Measured {
        double width = 0;
        bool begins_line = false;  // after a line feed
        bool after_blank = false;
    };
    std::vector<Measured> pieces_;
    double blank_ = 0;
    double widest_ = 0;
    double all_ = 0;
};

// As a file or screen without subscripts has it: "Iref".
std::string without_marks(std::string_view text);

// Width and drawing of one line with its marks.
double rich_width(Drawing& canvas, std::string_view text, const Style& style);
void draw_rich(Drawing& canvas, double x, double baseline, std::string_view text, const Style& style);

// Distance from one baseline to the next.
inline double line_height(const Style& style) {
    return 1.32 * style.size;
}

}  // namespace tipwright::report::certificate
