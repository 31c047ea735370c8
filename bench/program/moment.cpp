#include "bench/program/moment.hpp"

#include <array>
#include <cmath>
#include <cstdio>
#include <ctime>

namespace tipwright::program {

namespace {

std::string text_of(std::time_t seconds) {
    std::tm parts{};
    gmtime_r(&seconds, &parts);
    std::array<char, 32> buffer{};
    const std::size_t n = std::strftime(buffer.data(), buffer.size(), "%Y-%m-%dT%H:%M:%SZ", &parts);
    return {buffer.data(), n};
}

std::optional<std::time_t> time_of(const std::string& moment) {
    std::tm parts{};
    const char* end = strptime(moment.c_str(), "%Y-%m-%dT%H:%M:%SZ", &parts);
    if (end == nullptr || *end != '\0') return std::nullopt;
    const std::time_t seconds = timegm(&parts);
    // strptime takes the 31st of February; the way back shows it.
    if (text_of(seconds) != moment) return std::nullopt;
    return seconds;
}

}  // namespace

std::string utc_now() {
    return text_of(std::time(nullptr));
}

std::optional<std::string> later(const std::string& moment, double seconds) {
    const auto start = time_of(moment);
    if (!start) return std::nullopt;
    return text_of(*start + static_cast<std::time_t>(std::llround(seconds)));
}

std::optional<double> seconds_between(const std::string& from, const std::string& to) {
    const auto start = time_of(from);
    const auto end = time_of(to);
    if (!start || !end) return std::nullopt;
    return std::difftime(*end, *start);
}

}  // namespace tipwright::program
