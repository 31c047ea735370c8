// Line ASCII, protocol: bytes to lines, lines to readings, commands to bytes. Pure; the profile says how
// lines look. A line ends with CR, LF or both. Masses become grams here, once.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bench/instruments/line_ascii/pattern.hpp"
#include "bench/instruments/line_frame.hpp"
#include "bench/instruments/roles.hpp"

namespace tipwright::bench {

struct LineCommand {
    std::optional<Pattern> send;  // none: the instrument has no such command
    std::vector<Pattern> answers;
    bool survives_loss = true;  // false: not repeated after the link was lost
};

struct WeightPattern {
    Pattern pattern;
    bool stable = false;
    bool overload = false;
};

struct LineAsciiProfile {
    std::string send_ending = "\r";
    double answer_s = 1;         // longest wait for an answer
    int retries = 2;             // further attempts after the first
    double silence_s = 5;        // a printing balance: longest pause between two prints
    double poll_interval_s = 0;  // a polled balance: least time between two questions
    int bad_lines = 2;           // unreadable prints in a row that are passed over
    std::vector<Pattern> refusals;
    LineCommand identify;
    // pump
    LineCommand set_flow;
    LineCommand stop;
    LineCommand drain_open;
    LineCommand drain_close;
    double own_timeout_s = 0;  // the pump stops by itself when it hears nothing for so long; 0: it does not
    LineCommand arm;           // required with own_timeout_s
    LineCommand keep_alive;
    // balance and climate; a balance without `read.send` prints by itself
    LineCommand read;
    LineCommand tare;
    std::vector<WeightPattern> weights;
    std::vector<Pattern> climates;
};

// Reading has two steps: next_line() finds a line in the bytes, these say what it says.
enum class WeightLine { none, reading, overload };
// `reading.arrived_s` is left to the caller.
WeightLine read_weight(const std::vector<WeightPattern>& patterns, std::string_view line,
                       WeightReading& reading);
bool read_climate(const std::vector<Pattern>& patterns, std::string_view line, ClimateReading& reading);
// The answer belongs to the command that was sent with these values: a number sent must come back, to the
// decimals in which it was printed.
bool is_answer(const LineCommand& command, std::string_view line,
               std::span<const std::pair<std::string_view, double>> sent);
std::optional<std::string> read_refusal(const std::vector<Pattern>& patterns, std::string_view line);

}  // namespace tipwright::bench
