// Traffic as text: one line an entry.
#include <charconv>
#include <cmath>

#include "bench/links/traffic.hpp"
#include "calib/base/ascii.hpp"

namespace tipwright::bench {

namespace {

constexpr char way_signs[] = {'>', '<', '!'};
constexpr std::size_t entries_max = 5000000;

Fault wrong(FaultCode code, const std::string& name, std::size_t line, std::string what) {
    return {code, std::move(what), name + ":" + std::to_string(line),
            "a line is: seconds, > (sent), < (came) or ! (lost), and the bytes in quotes"};
}

std::optional<TrafficEntry> read_entry(std::string_view line) {
    TrafficEntry entry;
    const auto [end, error] = std::from_chars(line.data(), line.data() + line.size(), entry.time_s);
    if (error != std::errc() || !(entry.time_s >= 0 && entry.time_s <= 1e9)) return std::nullopt;
    std::string_view rest = trimmed(line.substr(static_cast<std::size_t>(end - line.data())));
    if (rest.empty()) return std::nullopt;
    const std::size_t way = std::string_view(way_signs, 3).find(rest.front());
    if (way == std::string_view::npos) return std::nullopt;
    entry.way = static_cast<TrafficWay>(way);
    rest = trimmed(rest.substr(1));
    if (rest.size() < 2 || rest.front() != '"' || rest.back() != '"') return std::nullopt;
    auto bytes = unescaped_bytes(rest.substr(1, rest.size() - 2));
    if (!bytes) return std::nullopt;
    entry.bytes = std::move(*bytes);
    if (entry.bytes.empty() && entry.way != TrafficWay::lost) return std::nullopt;
    return entry;
}

}  // namespace

std::string quoted_bytes(std::string_view bytes) {
    constexpr char digits[] = "0123456789ABCDEF";
    std::string text = "\"";
    for (const char c : bytes) {
        const auto byte = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\') {
            text += '\\';
            text += c;
        } else if (c == '\r') {
            text += "\\r";
        } else if (c == '\n') {
            text += "\\n";
        } else if (c == '\t') {
            text += "\\t";
        } else if (byte < 0x20 || byte > 0x7E) {
            text += "\\x";
            text += digits[byte >> 4];
            text += digits[byte & 15];
        } else {
            text += c;
        }
    }
    return text + '"';
}

std::optional<std::string> unescaped_bytes(std::string_view text) {
    std::string bytes;
    for (std::size_t at = 0; at < text.size(); ++at) {
        const char c = text[at];
        if (c == '"') return std::nullopt;
        if (c != '\\') {
            bytes += c;
            continue;
        }
        if (++at == text.size()) return std::nullopt;
        switch (text[at]) {
            case 'r':
                bytes += '\r';
                break;
            case 'n':
                bytes += '\n';
                break;
            case 't':
                bytes += '\t';
                break;
            case '"':
            case '\\':
                bytes += text[at];
                break;
            case 'x': {
                if (text.size() - at < 3) return std::nullopt;
                const int high = hex_value(text[at + 1]);
                const int low = hex_value(text[at + 2]);
                if (high < 0 || low < 0) return std::nullopt;
                bytes += static_cast<char>(high << 4 | low);
                at += 2;
                break;
            }
            default:
                return std::nullopt;
        }
    }
    return bytes;
}

std::string traffic_line(const TrafficEntry& entry) {
    char time[40];
    const auto end =
        std::to_chars(time, time + sizeof time, std::max(entry.time_s, 0.0), std::chars_format::fixed, 6).ptr;
    return std::string(time, end) + ' ' + way_signs[static_cast<int>(entry.way)] + ' ' +
           quoted_bytes(entry.bytes) + '\n';
}

Result<Traffic> parse_traffic(std::string_view text, const std::string& name) {
    if (text.size() > traffic_bytes_max) {
        return Fault{FaultCode::file_too_large, "the recording has more than 64 MiB", name, "cut it"};
    }
    Traffic traffic;
    std::size_t number = 0;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('\n'), text.size());
        std::string_view line = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (line.ends_with('\r')) line.remove_suffix(1);
        if (++number == 1) {
            if (line == traffic_first_line) continue;
            return Fault{
                FaultCode::unsupported_version,
                "this is not a recording: its first line is not \"" + std::string(traffic_first_line) + "\"",
                name + ":1", "give a file that 'tipwright listen --record' wrote"};
        }
        line = trimmed(line);
        if (line.empty()) continue;
        if (line.front() == '#') {
            const std::size_t equals = line.find('=');
            if (equals != std::string_view::npos)
                traffic.head.emplace_back(trimmed(line.substr(1, equals - 1)),
                                          trimmed(line.substr(equals + 1)));
            continue;
        }
        auto entry = read_entry(line);
        if (!entry)
            return wrong(FaultCode::syntax, name, number, in_quotes(line) + " is not a line of a recording");
        if (!traffic.entries.empty() && entry->time_s < traffic.entries.back().time_s)
            return wrong(FaultCode::bad_value, name, number, "the time runs backwards");
        if (traffic.entries.size() == entries_max)
            return Fault{FaultCode::file_too_large, "the recording has more lines than anybody needs", name,
                         "cut it"};
        traffic.entries.push_back(std::move(*entry));
    }
    if (number == 0) return Fault{FaultCode::unsupported_version, "the recording is empty", name, ""};
    return traffic;
}

}  // namespace tipwright::bench
