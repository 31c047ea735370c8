#include "bench/program/moment.hpp"

#include <chrono>
#include <cmath>

#include "calib/base/dates.hpp"

namespace tipwright::program {

std::string utc_now() {
    return utc_text(std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now()));
}

std::optional<std::string> later(const std::string& moment, double seconds) {
    const auto start = utc_moment(moment);
    if (!start) return std::nullopt;
    return utc_text(*start + std::chrono::seconds(std::llround(seconds)));
}

std::optional<double> seconds_between(const std::string& from, const std::string& to) {
    const auto start = utc_moment(from);
    const auto end = utc_moment(to);
    if (!start || !end) return std::nullopt;
    return static_cast<double>((*end - *start).count());
}

}  // namespace tipwright::program
