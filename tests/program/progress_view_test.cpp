// What a technician sees while a run goes on: in eighty and in sixty columns too, state and time left stand
// there whatever else does not fit.
#include "bench/program/run/progress_view.hpp"

#include <poll.h>
#include <pty.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <string>

using namespace tipwright;
using namespace tipwright::program;

namespace {

// A terminal of so many columns.
struct Terminal {
    explicit Terminal(unsigned short columns) {
        winsize size{24, columns, 0, 0};
        REQUIRE(::openpty(&outer, &inner, nullptr, nullptr, &size) == 0);
    }
    ~Terminal() {
        ::close(outer);
        ::close(inner);
    }
    Terminal(const Terminal&) = delete;
    Terminal& operator=(const Terminal&) = delete;
    std::string seen() const {
        std::string out;
        pollfd waiting{outer, POLLIN, 0};
        while (::poll(&waiting, 1, 100) == 1) {
            char bytes[4096];
            const ssize_t count = ::read(outer, bytes, sizeof bytes);
            if (count <= 0) break;
            out.append(bytes, static_cast<std::size_t>(count));
        }
        return out;
    }
    int outer = -1;
    int inner = -1;
};

std::string live_line(unsigned short columns, const bench::Progress& progress) {
    const Terminal terminal(columns);
    {
        Display display(terminal.inner);
        ProgressView view(display);
        view.show(progress);
        display.finish();
    }
    const std::string all = terminal.seen();
    const std::string begin = "\r\033[K";
    const std::size_t at = all.rfind(begin);
    REQUIRE(at != std::string::npos);
    return all.substr(at + begin.size());
}

bench::Progress widest() {
    bench::Progress progress;
    progress.state = bench::RunState::collecting;
    progress.step = 10;
    progress.steps = 12;
    progress.repeat = 10;
    progress.repeats = 10;
    progress.set_intensity_mm_h = 1000;
    progress.measured_intensity_mm_h = 1000.25;
    progress.tips = 100000;
    progress.mass_g = 123456.78;
    progress.volume_per_tip_mL = 31.4159;
    progress.error_percent = -12.34;
    progress.error_U_percent = 0.12;
    progress.time_s = 400000;
    progress.time_left_s = 360000;
    return progress;
}

}  // namespace

TEST_CASE("state and time left stand in the live line, however little room there is") {
    for (const unsigned short columns : {200, 100, 80, 60, 40, 24}) {
        const std::string line = live_line(columns, widest());
        INFO(columns << ": " << line);
        CHECK(line.size() < columns);
        CHECK(line.ends_with(" 100:00:00  " + std::string(bench::name_of(bench::RunState::collecting))));
    }
}

TEST_CASE("tips of wetting and settling are shown for each contact") {
    bench::Progress progress;
    progress.state = bench::RunState::settling;
    progress.step = 1;
    progress.steps = 3;
    progress.set_intensity_mm_h = 20;
    progress.tips = 12;
    progress.contact_tips = {12, 11};
    for (const unsigned short columns : {100, 80}) {
        const std::string line = live_line(columns, progress);
        INFO(columns << ": " << line);
        CHECK(line.find(" contacts 12 + 11 ") != std::string::npos);
        CHECK(line.ends_with("  " + std::string(bench::name_of(progress.state))));
    }
    CHECK(live_line(60, progress).find(" 12 + 11 ") != std::string::npos);
    progress.contact_tips.clear();
    CHECK(live_line(80, progress).find(" - ") != std::string::npos);
}
