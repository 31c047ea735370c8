#include "bench/program/run/progress_view.hpp"

#include <chrono>

#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

// How often the live line is drawn anew, in real seconds.
constexpr double redraw_s = 0.1;

std::string padded(const std::string& text, std::size_t width) {
    return text.size() < width ? std::string(width - text.size(), ' ') + text : text;
}

std::string number(const std::optional<double>& value, int decimals, std::size_t width) {
    return padded(value ? calib::fixed(*value, decimals) : "-", width);
}

std::string clock_text(double seconds) {
    const int total = static_cast<int>(seconds + 0.5);
    const auto two = [](int value) { return (value < 10 ? "0" : "") + std::to_string(value); };
    return std::to_string(total / 3600) + ":" + two(total / 60 % 60) + ":" + two(total % 60);
}

double wall_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

// Decimals of a volume per tip: what its uncertainty earns, four digits before it is known.
int volume_decimals(const bench::Progress& progress) {
    if (!progress.error_U_percent || !progress.volume_per_tip_mL) return 3;
    return calib::decimals_earned(*progress.error_U_percent / 100 * *progress.volume_per_tip_mL);
}

int percent_decimals(const bench::Progress& progress) {
    return progress.error_U_percent ? calib::decimals_earned(*progress.error_U_percent) : 2;
}

}  // namespace

ProgressView::ProgressView(Display& display)
    : display_(display), out_(display.stream()), terminal_(display.is_terminal()) {}

// The whole line, with the state behind it, fits into 100 columns.
void ProgressView::head(const std::string& title) {
    print_to(out_, "%s\n", title.c_str());
    print_to(out_, "%7s %8s %9s %5s %9s %8s %7s %8s %8s %9s\n", "step", "set", "measured", "tips", "mass",
             "mL/tip", "error", "± U", "time", "time left");
    print_to(out_, "%7s %8s %9s %5s %9s %8s %7s %7s %8s %9s\n", "", "mm/h", "mm/h", "", "g", "", "%", "%",
             "h:m:s", "h:m:s");
    std::fflush(out_);
}

std::string ProgressView::row(const bench::Progress& p) const {
    std::string step = std::to_string(p.step) + "/" + std::to_string(p.steps);
    // "3.2/7": the second run of step 3.
    if (p.repeats > 1)
        step = std::to_string(p.step) + "." + std::to_string(p.repeat) + "/" + std::to_string(p.steps);
    return padded(step, 7) + " " + padded(calib::fixed(p.set_intensity_mm_h, 1), 8) + " " +
           number(p.measured_intensity_mm_h, 2, 9) + " " + padded(std::to_string(p.tips), 5) + " " +
           number(p.mass_g, 2, 9) + " " + number(p.volume_per_tip_mL, volume_decimals(p), 8) + " " +
           number(p.error_percent, percent_decimals(p), 7) + " " +
           number(p.error_U_percent, percent_decimals(p), 7) + " " + padded(clock_text(p.time_s), 8) + " " +
           padded(clock_text(p.time_left_s), 9);
}

void ProgressView::live(const bench::Progress& p) {
    const std::string line = row(p) + "  " + std::string(bench::name_of(p.state));
    print_to(out_, "\r\033[K%s", first_characters(line, display_.width()).c_str());
    std::fflush(out_);
    live_line_ = true;
}

void ProgressView::show(const bench::Progress& progress) {
    if (progress.step_finished) {
        finish();
        print_to(out_, "%s\n", row(progress).c_str());
        std::fflush(out_);
        return;
    }
    if (!terminal_) return;
    const double now_s = wall_s();
    if (progress.state == last_state_ && now_s - last_shown_wall_s_ < redraw_s) return;
    last_shown_wall_s_ = now_s;
    last_state_ = progress.state;
    live(progress);
}

void ProgressView::message(const std::string& text) {
    finish();
    display_.cry("!! " + visible(text) + "\n");
}

void ProgressView::finish() {
    if (live_line_) print_to(out_, "\r\033[K");
    live_line_ = false;
}

}  // namespace tipwright::program
