#include "bench/program/run/lanes_view.hpp"

#include <algorithm>
#include <utility>

#include "bench/program/run/progress_view.hpp"
#include "bench/program/run/view_cells.hpp"
#include "bench/program/shown.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/padding.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

constexpr double redraw_lanes_s = 0.25;

}  // namespace

LanesView::LanesView(Display& display, std::vector<std::string> names)
    : display_(display), out_(display.stream()), terminal_(display.is_terminal()) {
    for (auto& name : names) rows_.push_back({std::move(name), std::nullopt, ""});
}

void LanesView::head(const std::string& title) {
    headed_ = true;
    print_to(out_, "%s: %zu lanes\n", title.c_str(), rows_.size());
    if (!terminal_) print_to(out_, "%s\n", columns().c_str());
    std::fflush(out_);
}

// What a person looks for must not fall off the right edge of eighty columns.
bool LanesView::narrow() const {
    constexpr std::size_t columns_of_all = 104;
    return terminal_ && display_.width() < columns_of_all;
}

// Where there is room for it.
bool LanesView::inches() const {
    constexpr std::size_t columns_with_it = 112;
    return inches_shown() && (!terminal_ || display_.width() >= columns_with_it);
}

// On a terminal they stand above the rows, below whatever messages there were.
std::string LanesView::columns() const {
    // In sixty columns the last two fall off.
    if (narrow())
        return first_characters(flush_left("lane", 14) + " " + flush_left("state", 8) + " " +
                                    flush_right("step", 5) + " " + flush_right("left", 8) + " " +
                                    flush_right("error %", 8) + "  ± U % " + flush_right("tips", 5) + " " +
                                    flush_right("measured", 9),
                                display_.width());
    const std::string text = flush_left("lane", 20) + " " + flush_left("state", 8) + " " +
                             flush_right("step", 6) + " " + flush_right("set mm/h", 9) +
                             (inches() ? "    in/h" : "") + " " + flush_right("measured", 9) + " " +
                             flush_right("tips", 5) + " " + flush_right("mL/tip", 9) + " " +
                             flush_right("error %", 8) + "  ± U % " + flush_right("left", 8);
    return terminal_ ? first_characters(text, display_.width()) : text;
}

std::string LanesView::text_of(const Row& row) const {
    const std::string name = visible(row.name);
    std::string line = (narrow() ? flush_left(first_characters(name, 14), 14) : flush_left(name, 20)) + " ";
    if (!row.outcome.empty()) {
        line += visible(row.outcome);
    } else if (!row.progress) {
        line += "begins";
    } else {
        const bench::Progress& p = *row.progress;
        const std::string state = flush_left(std::string(bench::name_of(p.state)), 8);
        const std::string step = std::to_string(p.step) + "/" + std::to_string(p.steps);
        constexpr std::size_t error_width = 15;
        const std::string contacts = contacts_text(p, error_width);
        const std::string error =
            contacts.empty() ? number_cell(p.error_percent, 2, 8) + " " + number_cell(p.error_U_percent, 2, 6)
                             : flush_right(contacts, error_width);
        const std::string time_left = flush_right(hours_text(p.time_left_s), 8);
        const std::string tips = flush_right(std::to_string(p.tips), 5);
        const std::string measured = number_cell(p.measured_intensity_mm_h, 2, 9);
        if (narrow())
            line += state + " " + flush_right(step, 5) + " " + time_left + " " + error + " " + tips + " " +
                    measured;
        else
            line += state + " " + flush_right(step, 6) + " " +
                    flush_right(calib::fixed(p.set_intensity_mm_h, 1), 9) +
                    (inches() ? inches_column(p.set_intensity_mm_h) : "") + " " + measured + " " + tips +
                    " " + number_cell(p.volume_per_tip_mL, 4, 9) + " " + error + " " + time_left;
    }
    return terminal_ ? first_characters(line, display_.width()) : line;
}

std::string LanesView::to_top() const {
    return "\033[" + std::to_string(rows_.size() + 1) + "A\r";
}

void LanesView::clear() {
    if (drawn_) print_to(out_, "%s\033[J", Drawn{to_top()});
    drawn_ = false;
}

void LanesView::draw(bool now) {
    if (!terminal_ || !headed_) return;
    const double wall = monotonic_s();
    if (!now && drawn_ && wall - drawn_wall_s_ < redraw_lanes_s) return;
    drawn_wall_s_ = wall;
    std::string block = (drawn_ ? to_top() : "") + "\033[K" + columns() + "\n";
    for (const Row& row : rows_) block += "\033[K" + text_of(row) + "\n";
    print_to(out_, "%s", Drawn{block});
    std::fflush(out_);
    drawn_ = true;
}

void LanesView::show(std::size_t lane, const bench::Progress& progress) {
    rows_[lane].progress = progress;
    if (!terminal_ && progress.step_finished) {
        print_to(out_, "%s\n", text_of(rows_[lane]).c_str());
        std::fflush(out_);
    }
    draw(false);
}

void LanesView::complete(std::size_t lane, const std::string& folder) {
    ended(lane, "complete: " + folder);
}

void LanesView::failed(std::size_t lane, const Fault& fault) {
    ended(lane, "FAILED: " + fault.line());
}

void LanesView::ended(std::size_t lane, std::string outcome) {
    rows_[lane].outcome = std::move(outcome);
    if (!terminal_) {
        print_to(out_, "%s\n", text_of(rows_[lane]).c_str());
        std::fflush(out_);
    }
    draw(true);
}

void LanesView::message(const std::string& text) {
    clear();
    display_.cry("!! " + visible(text) + "\n");
    draw(true);
}

void LanesView::message(std::size_t lane, const std::string& text) {
    message(rows_[lane].name + ": " + text);
}

void LanesView::finish() {
    draw(true);
    drawn_ = false;
}

}  // namespace tipwright::program
