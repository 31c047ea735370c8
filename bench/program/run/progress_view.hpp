// ProgressView: what the technician sees while a run goes on. On a terminal one line is kept up to date
// and a row is added to a table as each step ends; elsewhere only the rows and messages appear.
#pragma once

#include <cstdio>
#include <string>

#include "bench/program/run/display.hpp"
#include "bench/run/run.hpp"

namespace tipwright::program {

// "contacts 12 + 11": tips of the wetting or settling that each contact saw, in as many characters; empty
// where there is but one contact, or another phase.
std::string contacts_text(const bench::Progress& progress, std::size_t width);

class ProgressView {
public:
    explicit ProgressView(Display& display);

    void head(const std::string& title);
    void show(const bench::Progress& progress);
    void message(const std::string& text);
    // The run has ended: a hand is wanted.
    void ring();
    // Clears the live line.
    void finish();

private:
    enum class Layout { wide, middle, narrow };
    Layout layout() const;
    bool inches() const;
    // Without the time left, which stands at its end.
    std::string row(const bench::Progress& progress) const;
    std::string time_left(const bench::Progress& progress) const;
    void live(const bench::Progress& progress);

    Display& display_;
    std::FILE* out_;
    bool terminal_;
    bool live_line_ = false;
    double last_shown_wall_s_ = -1;
    bench::RunState last_state_ = bench::RunState::idle;
};

}  // namespace tipwright::program
