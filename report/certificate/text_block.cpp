#include "report/certificate/text_block.hpp"

#include <algorithm>
#include <iterator>
#include <limits>

#include "calib/base/text.hpp"

namespace tipwright::report::certificate {

namespace {

// Unbreakable pieces with the blank that may follow each.
struct Piece {
    std::string_view text;
    bool blank_after = false;
};

constexpr std::string_view units[] = {"%",   "mm",  "mL",   "g",      "s",     "h",  "min", "°C",   "hPa",
                                      "g/h", "cm²", "mm/h", "mL/min", "mm/mL", "s²", "UTC", "kg/m³"};

bool is_unit(std::string_view word) {
    while (!word.empty() && (word.back() == '.' || word.back() == ',' || word.back() == ';' ||
                             word.back() == ':' || word.back() == ')'))
        word.remove_suffix(1);
    return std::find(std::begin(units), std::end(units), word) != std::end(units);
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

std::string_view word_before(std::string_view line, std::size_t blank) {
    const std::size_t start = line.substr(0, blank).rfind(' ');
    return line.substr(start == std::string_view::npos ? 0 : start + 1,
                       blank - (start == std::string_view::npos ? 0 : start + 1));
}

std::string_view word_after(std::string_view line, std::size_t blank) {
    const std::string_view rest = line.substr(blank + 1);
    return rest.substr(0, rest.find(' '));
}

// "20 mm/h", "k = 2.1" and "C. Checker" stay on one line.
bool may_break_at(std::string_view line, std::size_t blank) {
    const std::string_view before = word_before(line, blank);
    const std::string_view after = word_after(line, blank);
    // French sets a blank before these.
    if (after == ";" || after == ":" || after == "!" || after == "?" || after == "»" || before == "«")
        return false;
    // Nor is an initial left behind by its name.
    if (before.size() == 2 && before[1] == '.' && before[0] >= 'A' && before[0] <= 'Z') return false;
    if (before == "=" || after == "=") return before.size() + after.size() > 24;
    return !(!before.empty() && is_digit(before.back()) && is_unit(after));
}

// Not within what names one thing, as "INV-K-0001" or "ISO/TS", unless it is too long to be kept whole.
bool may_break_after(std::string_view line, std::size_t at) {
    constexpr std::size_t long_word = 24;
    const char before = line[at - 1];
    const bool names = is_digit(before) || (before >= 'A' && before <= 'Z');
    const std::size_t blank = line.substr(0, at).rfind(' ');
    const std::size_t start = blank == std::string_view::npos ? 0 : blank + 1;
    const std::size_t end = std::min(line.find(' ', at), line.size());
    return !names || end - start > long_word;
}

std::vector<Piece> pieces_of(std::string_view line) {
    std::vector<Piece> pieces;
    std::size_t start = 0;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const char c = line[i];
        if (c == ' ' && may_break_at(line, i)) {
            pieces.push_back({line.substr(start, i - start), true});
            start = i + 1;
        } else if ((c == '-' || c == '/') && i > start + 2 && i + 1 < line.size() && line[i + 1] != ' ' &&
                   !is_digit(line[i + 1]) && may_break_after(line, i) &&
                   !is_unit(word_after(line, line.substr(0, i).rfind(' ')))) {
            pieces.push_back({line.substr(start, i + 1 - start), false});
            start = i + 1;
        }
    }
    pieces.push_back({line.substr(start), false});
    return pieces;
}

class Wrapper {
public:
    Wrapper(Drawing& canvas, const Style& style, double width, std::vector<std::string>& lines)
        : canvas_(canvas),
          style_(style),
          width_(width),
          blank_(canvas.text_width(" ", style)),
          lines_(lines) {}

    void add(std::string_view line) {
        for (const Piece& piece : pieces_of(line)) {
            place(piece.text);
            if (piece.blank_after) pending_blank_ = true;
        }
        end_line();
    }

private:
    Drawing& canvas_;
    const Style& style_;
    double width_;
    double blank_;
    std::vector<std::string>& lines_;
    std::string current_;
    double used_ = 0;
    bool pending_blank_ = false;

    void end_line() {
        lines_.push_back(current_);
        current_.clear();
        used_ = 0;
        pending_blank_ = false;
    }

    void place(std::string_view text) {
        if (text.empty()) return;
        const double needed = rich_width(canvas_, text, style_);
        const double gap = pending_blank_ && !current_.empty() ? blank_ : 0;
        if (!current_.empty() && used_ + gap + needed > width_) {
            end_line();
        } else if (gap > 0) {
            current_ += ' ';
            used_ += gap;
        }
        pending_blank_ = false;
        if (needed <= width_ || text != without_marks(text)) {
            current_ += text;
            used_ += needed;
        } else {
            cut(text);
        }
    }

    // A word that fits no line: letter by letter.
    void cut(std::string_view text) {
        for (std::size_t at = 0; at < text.size();) {
            const std::size_t from = at;
            next_code_point(text, at);
            const std::string_view letter = text.substr(from, at - from);
            const double needed = canvas_.text_width(letter, style_);
            if (!current_.empty() && used_ + needed > width_) end_line();
            current_ += letter;
            used_ += needed;
        }
    }
};

// How a part between two marks is set.
struct Mark {
    std::string_view open;
    std::string_view close;
    double size = 1;  // of that of the line
    double drop = 0;  // of its baseline, in sizes of the line
    bool slanted = false;
};
constexpr Mark mark_list[] = {{"~", "~", 0.72, 0.18, false}, {"‹", "›", 1, 0, true}};

// Calls draw(part, style of the part, drop of its baseline) for the parts of a line.
template <class Draw>
void each_part(std::string_view text, const Style& style, Draw draw) {
    constexpr std::size_t none = std::string_view::npos;
    std::size_t start = 0;
    for (std::size_t from = 0; from <= text.size();) {
        const Mark* mark = nullptr;
        std::size_t open = none;
        for (const Mark& one : mark_list)
            if (const std::size_t at = text.find(one.open, from); at < open) {
                open = at;
                mark = &one;
            }
        const std::size_t inside = mark == nullptr ? none : open + mark->open.size();
        const std::size_t close = mark == nullptr ? none : text.find(mark->close, inside);
        if (mark == nullptr) break;
        if (close == none) {  // alone it is a sign like others
            from = inside;
            continue;
        }
        draw(text.substr(start, open - start), style, 0.0);
        Style own = style;
        own.size *= mark->size;
        own.slanted = mark->slanted;
        draw(text.substr(inside, close - inside), own, mark->drop * style.size);
        start = from = close + mark->close.size();
    }
    draw(text.substr(start), style, 0.0);
}

}  // namespace

std::string without_marks(std::string_view text) {
    std::string out;
    each_part(text, Style{}, [&](std::string_view part, const Style&, double) { out += part; });
    return out;
}

double rich_width(Drawing& canvas, std::string_view text, const Style& style) {
    double width = 0;
    each_part(text, style, [&](std::string_view part, const Style& own, double) {
        width += canvas.text_width(part, own);
    });
    return width;
}

void draw_rich(Drawing& canvas, double x, double baseline, std::string_view text, const Style& style) {
    each_part(text, style, [&](std::string_view part, const Style& own, double drop) {
        canvas.text(x, baseline + drop, part, own);
        x += canvas.text_width(part, own);
    });
}

namespace {

// Calls take(piece, whether it begins a line of the text, whether a blank stands before it) for all of them.
template <class Take>
void each_piece(std::string_view text, Take take) {
    for (std::size_t start = 0; start <= text.size();) {
        const std::size_t end = std::min(text.find('\n', start), text.size());
        bool begins = true;
        bool blank = false;
        for (const Piece& piece : pieces_of(text.substr(start, end - start))) {
            take(piece.text, begins, blank);
            begins = false;
            blank = piece.blank_after;
        }
        start = end + 1;
    }
}

}  // namespace

double widest_piece(Drawing& canvas, std::string_view text, const Style& style) {
    double widest = 0;
    each_piece(text, [&](std::string_view piece, bool, bool) {
        widest = std::max(widest, rich_width(canvas, piece, style));
    });
    return widest;
}

Wrapping::Wrapping(Drawing& canvas, std::string_view text, const Style& style)
    : blank_(canvas.text_width(" ", style)) {
    each_piece(text, [&](std::string_view piece, bool begins, bool blank) {
        if (piece.empty() && !begins) return;  // a blank at the end of a line
        const double width = rich_width(canvas, piece, style);
        pieces_.push_back({width, begins, blank});
        widest_ = std::max(widest_, width);
        all_ += width + blank_;
    });
}

std::size_t Wrapping::lines(double width) const {
    std::size_t lines = 0;
    double used = 0;
    for (const Measured& piece : pieces_) {
        const double gap = piece.after_blank && used > 0 ? blank_ : 0;
        if (piece.begins_line || (used > 0 && used + gap + piece.width > width)) {
            ++lines;
            used = piece.width;
        } else {
            used += gap + piece.width;
        }
    }
    return lines;
}

double Wrapping::least_width(std::size_t most_lines) const {
    constexpr double exact_pt = 0.1;
    if (lines(all_) > most_lines) return std::numeric_limits<double>::infinity();
    if (lines(widest_) <= most_lines) return widest_;
    double narrow = widest_, wide = all_;
    while (wide - narrow > exact_pt) {
        const double middle = (narrow + wide) / 2;
        (lines(middle) <= most_lines ? wide : narrow) = middle;
    }
    return wide;
}

std::vector<std::string> wrap(Drawing& canvas, std::string_view text, const Style& style, double width) {
    std::vector<std::string> lines;
    Wrapper wrapper(canvas, style, width, lines);
    std::size_t start = 0;
    while (true) {
        const std::size_t end = text.find('\n', start);
        wrapper.add(text.substr(start, end == std::string_view::npos ? end : end - start));
        if (end == std::string_view::npos) return lines;
        start = end + 1;
    }
}

}  // namespace tipwright::report::certificate
