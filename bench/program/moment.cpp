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

}  // namespace

std::string utc_now() {
    return text_of(std::time(nullptr));
}

std::optional<std::string> later(const std::string& moment, double seconds) {
    std::tm parts{};
    const char* end = strptime(moment.c_str(), "%Y-%m-%dT%H:%M:%SZ", &parts);
    if (end == nullptr || *end != '\0') return std::nullopt;
    const std::time_t start = timegm(&parts);
    // strptime takes the 31st of February; the way back shows it.
    if (text_of(start) != moment) return std::nullopt;
    return text_of(start + static_cast<std::time_t>(std::llround(seconds)));
}

}  // namespace tipwright::program
