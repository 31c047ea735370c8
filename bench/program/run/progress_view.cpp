#include "bench/program/run/progress_view.hpp"

#include "bench/program/run/view_cells.hpp"
#include "bench/program/shown.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/padding.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

// How often the live line is drawn anew, in real seconds.
constexpr double redraw_s = 0.1;

// Decimals of a volume per tip: what its uncertainty earns, four digits before it is known.
int volume_decimals(const bench::Progress& progress) {
    if (!progress.error_U_percent || !progress.volume_per_tip_mL) return 3;
    return calib::decimals_earned(*progress.error_U_percent / 100 * *progress.volume_per_tip_mL);
}

int percent_decimals(const bench::Progress& progress) {
    return progress.error_U_percent ? calib::decimals_earned(*progress.error_U_percent) : 2;
}

// Volume per tip (left out where its width is 0), error and U; while there are none, what each contact saw.
std::string results(const bench::Progress& p, std::size_t volume, std::size_t error, std::size_t U) {
    const std::size_t width = (volume > 0 ? volume + 1 : 0) + error + 1 + U;
    if (const std::string contacts = contacts_text(p, width); !contacts.empty())
        return flush_right(contacts, width);
    return (volume > 0 ? number_cell(p.volume_per_tip_mL, volume_decimals(p), volume) + " " : "") +
           number_cell(p.error_percent, percent_decimals(p), error) + " " +
           number_cell(p.error_U_percent, percent_decimals(p), U);
}

}  // namespace

std::string contacts_text(const bench::Progress& progress, std::size_t width) {
    std::string counts;
    for (const int tips : progress.contact_tips)
        counts += (counts.empty() ? "" : " + ") + std::to_string(tips);
    const std::string with_word = "contacts " + counts;
    if (counts.empty()) return counts;
    return with_word.size() <= width ? with_word : counts;
}

ProgressView::ProgressView(Display& display)
    : display_(display), out_(display.stream()), terminal_(display.is_terminal()) {}

// U is that of the collect alone, as far as it has come: what the whole run tells comes to it in the
// certificate.
constexpr const char* preliminary = "U so far; the certificate's own will stand in results.csv";

// The whole line, with the state behind it, fits into 100 columns, or into 80; into 60 without what is least
// wanted. in/h has its column from 108 on.
void ProgressView::head(const std::string& title) {
    print_to(out_, "%s\n", title.c_str());
    switch (layout()) {
        case Layout::wide:
            print_to(out_, "%7s %8s%s %9s %5s %9s %8s %7s %8s %8s %9s\n", "step", "set",
                     inches() ? "     set" : "", "measured", "tips", "mass", "mL/tip", "error", "± U", "time",
                     "time left");
            print_to(out_, "%7s %8s%s %9s %5s %9s %8s %7s %7s %8s %9s\n", "", "mm/h",
                     inches() ? "    in/h" : "", "mm/h", "", "g", "", "%", "%", "h:m:s", "h:m:s");
            break;
        case Layout::middle:
            print_to(out_, "%6s %6s %7s %4s %8s %7s %6s %7s %8s\n", "step", "set", "meas.", "tips", "mass",
                     "mL/tip", "error", "± U", "left");
            print_to(out_, "%6s %6s %7s %4s %8s %7s %6s %6s %8s\n", "", "mm/h", "mm/h", "", "g", "", "%", "%",
                     "h:m:s");
            break;
        case Layout::narrow:
            print_to(out_, "%6s %6s %4s %6s %7s %8s\n", "step", "mm/h", "tips", "error", "± U", "left");
            break;
    }
    print_to(out_, "%s\n", preliminary);
    std::fflush(out_);
}

ProgressView::Layout ProgressView::layout() const {
    const std::size_t width = display_.width();
    return width >= 99 ? Layout::wide : width >= 78 ? Layout::middle : Layout::narrow;
}

bool ProgressView::inches() const {
    return inches_shown() && (!terminal_ || display_.width() >= 107);
}

std::string ProgressView::row(const bench::Progress& p) const {
    std::string step = std::to_string(p.step) + "/" + std::to_string(p.steps);
    // "3.2/7": the second run of step 3.
    if (p.repeats > 1)
        step = std::to_string(p.step) + "." + std::to_string(p.repeat) + "/" + std::to_string(p.steps);
    const std::string set = calib::fixed(p.set_intensity_mm_h, 1);
    const std::string tips = std::to_string(p.tips);
    switch (layout()) {
        case Layout::narrow:
            return flush_right(step, 6) + " " + flush_right(set, 6) + " " + flush_right(tips, 4) + " " +
                   results(p, 0, 6, 6);
        case Layout::middle:
            return flush_right(step, 6) + " " + flush_right(set, 6) + " " +
                   number_cell(p.measured_intensity_mm_h, 2, 7) + " " + flush_right(tips, 4) + " " +
                   number_cell(p.mass_g, 2, 8) + " " + results(p, 7, 6, 6);
        case Layout::wide:
            break;
    }
    const std::string in_h = inches() ? inches_column(p.set_intensity_mm_h) : "";
    return flush_right(step, 7) + " " + flush_right(set, 8) + in_h + " " +
           number_cell(p.measured_intensity_mm_h, 2, 9) + " " + flush_right(tips, 5) + " " +
           number_cell(p.mass_g, 2, 9) + " " + results(p, 8, 7, 7) + " " +
           flush_right(hours_text(p.time_s), 8);
}

std::string ProgressView::time_left(const bench::Progress& p) const {
    return " " + flush_right(hours_text(p.time_left_s), layout() == Layout::wide ? 9 : 8);
}

void ProgressView::live(const bench::Progress& p) {
    // Time left and state are what a person looks for: the rest of the line makes room for them.
    const std::string end = time_left(p) + "  " + std::string(bench::name_of(p.state));
    const std::size_t width = display_.width();
    const std::string line = first_characters(row(p), width > end.size() ? width - end.size() : 0) + end;
    print_to(out_, "\r\033[K%s", first_characters(line, width).c_str());
    std::fflush(out_);
    live_line_ = true;
}

void ProgressView::show(const bench::Progress& progress) {
    if (progress.step_finished) {
        finish();
        print_to(out_, "%s%s\n", row(progress), time_left(progress));
        std::fflush(out_);
        return;
    }
    if (!terminal_) return;
    const double now_s = monotonic_s();
    if (progress.state == last_state_ && now_s - last_shown_wall_s_ < redraw_s) return;
    last_shown_wall_s_ = now_s;
    last_state_ = progress.state;
    live(progress);
}

void ProgressView::message(const std::string& text) {
    finish();
    display_.cry("!! " + visible(text) + "\n");
    ring();
}

void ProgressView::ring() {
    if (!terminal_) return;
    print_to(out_, "%s", Drawn{"\a"});
    std::fflush(out_);
}

void ProgressView::finish() {
    if (live_line_) print_to(out_, "\r\033[K");
    live_line_ = false;
}

}  // namespace tipwright::program
