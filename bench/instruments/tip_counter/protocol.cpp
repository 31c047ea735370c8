#include "bench/instruments/tip_counter/protocol.hpp"

#include <algorithm>
#include <charconv>
#include <cstring>

#include "bench/instruments/modbus_crc.hpp"
#include "calib/base/ascii.hpp"

namespace tipwright::bench {

namespace {

// " *" and four hexadecimal digits.
constexpr std::size_t checksum_length = 6;

// A decimal number up to a blank or the end, and that blank.
template <class Number>
bool take_number(std::string_view& rest, Number& number) {
    const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), number);
    if (error != std::errc()) return false;
    rest.remove_prefix(static_cast<std::size_t>(end - rest.data()));
    if (rest.empty()) return true;
    if (rest.front() != ' ' || rest.size() == 1) return false;
    rest.remove_prefix(1);
    return true;
}

bool is_kind(char c) {
    return c == 'E' || c == 'H' || c == 'I';
}

// How many bytes at the front can begin no line: up to the next letter of a line.
std::size_t to_next_start(std::string_view text, std::size_t from) {
    while (from < text.size() && !is_kind(text[from])) ++from;
    return from;
}

}  // namespace

std::optional<std::string_view> check_counter_frame(std::string_view text) {
    if (text.size() < checksum_length + 1) return std::nullopt;
    const std::string_view tail = text.substr(text.size() - checksum_length);
    if (tail[0] != ' ' || tail[1] != '*') return std::nullopt;
    unsigned stated = 0;
    for (char c : tail.substr(2)) {
        const int digit = hex_value(c);
        if (digit < 0) return std::nullopt;
        stated = stated << 4 | static_cast<unsigned>(digit);
    }
    const std::string_view body = text.substr(0, text.size() - checksum_length);
    if (crc16_modbus(body) != stated) return std::nullopt;
    return body;
}

std::optional<CounterLine> read_counter_fields(std::string_view body) {
    CounterLine line;
    if (body.size() < 2 || !is_kind(body[0]) || body[1] != ' ') return std::nullopt;
    const char kind = body[0];
    line.heartbeat = kind == 'H';
    body.remove_prefix(2);
    if (!take_number(body, line.sequence) || body.empty() || !take_number(body, line.device_us))
        return std::nullopt;
    if (line.heartbeat) {
        if (!body.empty()) return std::nullopt;
        return line;
    }
    if (kind == 'I') {
        const bool printable =
            std::all_of(body.begin(), body.end(), [](char c) { return c >= ' ' && c <= '~'; });
        if (body.empty() || body.size() > counter_identity_limit || body[0] == ' ' || !printable)
            return std::nullopt;
        line.identity = body;
        return line;
    }
    // "1 0": contact, blank, state.
    if (body.size() != 3 || (body[0] != '1' && body[0] != '2') || body[1] != ' ' ||
        (body[2] != '0' && body[2] != '1')) {
        return std::nullopt;
    }
    line.contact = body[0] - '0';
    line.closed = body[2] == '1';
    return line;
}

CounterParse parse_counter(std::span<const std::byte> bytes) {
    CounterParse parse;
    const std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    const std::size_t start = to_next_start(text, 0);
    if (start > 0) {
        parse.kind = CounterParse::Kind::dropped;
        parse.consumed = start;
        return parse;
    }
    const std::string_view window = text.substr(0, counter_line_limit);
    const std::size_t newline = window.find('\n');
    if (newline == std::string_view::npos) {
        if (window.size() == counter_line_limit) {
            parse.kind = CounterParse::Kind::dropped;
            parse.consumed = to_next_start(text, 1);
        }
        return parse;
    }
    std::string_view line = window.substr(0, newline);
    if (line.ends_with('\r')) line.remove_suffix(1);
    const auto body = check_counter_frame(line);
    const auto fields = body ? read_counter_fields(*body) : std::nullopt;
    if (fields) {
        parse.kind = CounterParse::Kind::line;
        parse.consumed = newline + 1;
        parse.line = *fields;
    } else {
        // The true start may stand further on: what came before it was noise.
        parse.kind = CounterParse::Kind::dropped;
        parse.consumed = to_next_start(text, 1);
    }
    return parse;
}

}  // namespace tipwright::bench
