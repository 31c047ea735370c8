#include "bench/instruments/learn/draft_text.hpp"

#include <algorithm>
#include <cmath>

#include "bench/descriptions/reading.hpp"

namespace tipwright::bench {

namespace {

std::string word_of(Parity parity) {
    switch (parity) {
        case Parity::even:
            return "even";
        case Parity::odd:
            return "odd";
        case Parity::none:
            break;
    }
    return "none";
}

// A whole number of tenths of a second, at least `least`.
std::string tenths(double value_s, double least) {
    return shortest(std::round(std::max(value_s, least) * 10) / 10);
}

}  // namespace

std::string draft_text(const DraftParts& parts) {
    const LearnRequest& request = *parts.request;
    const bool asked = !request.question.empty();
    std::string out =
        "# A draft, learned from what the balance sent. Check it with 'tipwright listen --profile', then "
        "bench-check.\n";
    for (const std::string& doubt : parts.doubts) out += "# ASK: " + doubt + "\n";
    out += "title = " + toml_quoted(request.title) +
           "\nfamily = \"line-ascii\"            # lines of text that end in " + parts.ends_with +
           "\nrole = \"balance\"\nversion = \"1.0\"\n\n[serial]                         # as it was listened "
           "to\n";
    out += "baud = " + std::to_string(request.serial.baud) +
           "\ndata_bits = " + std::to_string(request.serial.data_bits) +
           "\nparity = " + toml_quoted(word_of(request.serial.parity)) +
           "\nstop_bits = " + std::to_string(request.serial.stop_bits) +
           "\n\n[line]\nsend_ending = " + toml_quoted(request.question_ending);
    if (parts.decimal_sign == ',')
        out += "\ndecimal_sign = \"comma\"           # digits stand on both sides of commas";
    out += "\n\n[timing]\nanswer_s = 1\nretries = 2\n";
    if (asked)
        out += "poll_interval_s = 0.2            # a question at a time\n\n[command.read]\nsend = " +
               toml_quoted(request.question) + "                  # as it was asked\n";
    else
        out += "silence_s = " + tenths(10 * parts.period_s, 2) + "                    # ten times the " +
               tenths(parts.period_s, 0.1) + " s from line to line\nbad_lines = 2\n";
    for (const ReadingDraft& reading : parts.readings) {
        out += "\n# " + toml_quoted(reading.example) + ": " + reading.reason +
               "\n[[reading]]\npattern = " + toml_quoted(reading.pattern) + "\n";
        if (reading.stable) out += "stable = true                    # hardly ever while it moved\n";
        if (reading.overload) out += "overload = true                  # at overload alone\n";
    }
    return out;
}

}  // namespace tipwright::bench
