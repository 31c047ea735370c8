#include "bench/instruments/line_interpreter.hpp"

#include <span>

#include "bench/instruments/line_frame.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

std::vector<Meaning> LineInterpreter::sent(std::string_view bytes) {
    return whole_lines(sent_, bytes, true);
}

std::vector<Meaning> LineInterpreter::came(std::string_view bytes) {
    return whole_lines(came_, bytes, false);
}

std::vector<Meaning> LineInterpreter::whole_lines(std::string& held, std::string_view bytes, bool was_sent) {
    held += bytes;
    std::vector<Meaning> meanings;
    std::size_t done = 0;
    while (true) {
        const LineFrame frame = next_line(std::as_bytes(std::span(held)).subspan(done));
        done += frame.consumed;
        if (frame.kind == LineFrame::Kind::need_more) break;
        if (frame.kind == LineFrame::Kind::too_long) {
            meanings.push_back({false, std::to_string(line_limit) + " bytes without a line end", {}});
        } else {
            meanings.push_back(was_sent ? line_sent(frame.text) : line_came(frame.text));
        }
    }
    held.erase(0, done);
    return meanings;
}

std::string mismatch_text(std::string_view line, std::size_t at, std::string_view wanted) {
    const std::string_view rest = line.substr(std::min(at, line.size()));
    return "column " + std::to_string(at + 1) + ": wants " + std::string(wanted) +
           (rest.empty() ? ", the line ends there" : ", the line has " + in_quotes(rest));
}

}  // namespace tipwright::bench
