#include "bench/program/run/side_up.hpp"

#include <unistd.h>

#include <iostream>

#include "bench/descriptions/adjustment.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

Result<char> side_up_of(const bench::GaugeDescription& gauge, bool real_bench, const std::string& said) {
    if (gauge.gauge.compartments != 2) {
        if (said == "A" || said == "B")
            return Fault{FaultCode::usage, "a spoon has no sides", "--side-up", "leave it out"};
        return char{0};
    }
    if (said == "A" || said == "B") return said[0];
    if (said == "unknown") return char{0};
    const auto screws = bench::parse_stop_screws(gauge.kind_text);
    if (!screws) return screws.fault();
    if (screws->side_up != 0) {
        print_to(stderr, "Lay the bucket so that %s is up, under the funnel.\n",
                 calib::side_text(screws->marks, screws->side_up));
        return screws->side_up;
    }
    if (!real_bench || ::isatty(STDIN_FILENO) == 0 || ::isatty(STDERR_FILENO) == 0) return char{0};
    print_to(stderr,
             "Which side of the bucket is up, under the funnel?\n  a  %s\n  b  %s\nEnter alone: not known. ",
             calib::side_text(screws->marks, 'A'), calib::side_text(screws->marks, 'B'));
    for (std::string line; std::getline(std::cin, line);) {
        while (!line.empty() && (line.back() == ' ' || line.back() == '\r')) line.pop_back();
        if (line == "a" || line == "A") return 'A';
        if (line == "b" || line == "B") return 'B';
        if (line.empty()) break;
        print_to(stderr, "Type a, b or Enter alone: ");
    }
    return char{0};
}

}  // namespace tipwright::program
