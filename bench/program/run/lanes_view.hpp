// LanesView: one line a lane, drawn anew in place on a terminal; elsewhere a line for each finished step.
// Messages are lines of their own, with the lane's name before them.
#pragma once

#include <cstdio>
#include <optional>
#include <string>
#include <vector>

#include "bench/program/run/display.hpp"
#include "bench/run/run.hpp"

namespace tipwright::program {

class LanesView {
public:
    LanesView(Display& display, std::vector<std::string> names);

    void head(const std::string& title);
    void show(std::size_t lane, const bench::Progress& progress);
    // The lane has come to its end, and this is what came of it: where its results are, or why there are
    // none.
    void complete(std::size_t lane, const std::string& folder);
    void failed(std::size_t lane, const Fault& fault);
    void message(const std::string& text);
    void message(std::size_t lane, const std::string& text);
    // The last state of all lanes stays on the screen.
    void finish();

private:
    struct Row {
        std::string name;
        std::optional<bench::Progress> progress;
        std::string outcome;
    };
    bool narrow() const;
    bool inches() const;
    std::string columns() const;
    std::string text_of(const Row& row) const;
    std::string to_top() const;
    void ended(std::size_t lane, std::string outcome);
    void draw(bool now);
    void clear();

    Display& display_;
    std::FILE* out_;
    bool terminal_;
    std::vector<Row> rows_;
    bool headed_ = false;
    bool drawn_ = false;
    double drawn_wall_s_ = -1;
};

}  // namespace tipwright::program
