// Traffic: the bytes of a link with their times, recorded as text and played back as a link, so that a
// session of a real instrument becomes a test that needs none. Format: templates/instruments/README.md.
// Faults of parse_traffic: unsupported_version, syntax, bad_value, file_too_large; where is name:line.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bench/clock/clock.hpp"
#include "bench/links/link.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

inline constexpr std::string_view traffic_first_line = "tipwright-traffic 1";
inline constexpr std::size_t traffic_bytes_max = 64u << 20;

enum class TrafficWay {
    sent,  // to the instrument
    came,  // from it
    lost,  // the link; bytes say why
};

struct TrafficEntry {
    double time_s = 0;  // since the recording began, ascending
    TrafficWay way{};
    std::string bytes;
};

struct Traffic {
    std::vector<std::pair<std::string, std::string>> head;  // "# name = value"
    std::vector<TrafficEntry> entries;
};

// One line, newline included.
std::string traffic_line(const TrafficEntry& entry);
// In quotes; what is not printable ASCII as \r, \n, \t or \x1B.
std::string quoted_bytes(std::string_view bytes);
// Its inverse without the quotes; nothing for a bad escape.
std::optional<std::string> unescaped_bytes(std::string_view text);
Result<Traffic> parse_traffic(std::string_view text, const std::string& name);

// The link with someone who sees what goes over it. Each call of `see` is one read, one write, or the loss.
using TrafficWatcher = std::function<void(const TrafficEntry&)>;
std::unique_ptr<Link> tap_link(std::unique_ptr<Link> link, Clock& clock, TrafficWatcher see);

// What came, at the pauses in which it came, but nothing before what was sent ahead of it is sent again.
// Other bytes than those, and the end of the recording, are link_lost. `speed`: pauses are divided by it.
std::unique_ptr<Link> replay_link(Traffic traffic, Clock& clock, std::string name, double speed = 1);

}  // namespace tipwright::bench
