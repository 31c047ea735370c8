#include "bench/program/shown.hpp"

#include <chrono>
#include <cstdlib>
#include <ctime>
#include <filesystem>

#include "bench/program/environment.hpp"
#include "calib/base/dates.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

constexpr double mm_per_inch = 25.4;

ShownAs& chosen() {
    static ShownAs one;
    return one;
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

// "+01:00" as POSIX writes it, with its sign turned; empty: it is no such offset.
std::string offset_rule(const std::string& zone) {
    if (zone.size() != 6 || (zone[0] != '+' && zone[0] != '-') || zone[3] != ':') return {};
    for (const std::size_t at : {1, 2, 4, 5})
        if (!is_digit(zone[at])) return {};
    if (zone.substr(1, 2) > "14" || zone.substr(4, 2) > "59") return {};
    return "<" + zone.substr(0, 3) + zone.substr(4) + ">" + (zone[0] == '+' ? "-" : "+") + zone.substr(1);
}

bool is_known_zone(const std::string& zone) {
    if (zone.empty() || zone.front() == '/' || zone.find("..") != std::string::npos) return false;
    const std::string named = environment("TZDIR");
    const std::filesystem::path folder = named.empty() ? "/usr/share/zoneinfo" : named;
    std::error_code ignored;
    return std::filesystem::is_regular_file(folder / zone, ignored);
}

}  // namespace

Outcome show_as(const ShownAs& wanted) {
    chosen() = wanted;
    const std::string& zone = wanted.zone;
    if (zone.empty() || zone == "local") {
        ::tzset();
        return Done{};
    }
    std::string rule = zone == "UTC" ? "UTC0" : offset_rule(zone);
    if (rule.empty() && is_known_zone(zone)) rule = ":" + zone;
    if (rule.empty()) {
        chosen().zone.clear();
        return Fault{FaultCode::bad_value, "there is no time zone " + in_quotes(zone), "display_zone",
                     "write it as Europe/Vienna (package tzdata), UTC, +01:00 or local"};
    }
    ::setenv("TZ", rule.c_str(), 1);
    ::tzset();
    return Done{};
}

bool inches_shown() {
    return chosen().units == "in/h";
}

std::string shown_moment(const std::string& utc) {
    if (chosen().zone.empty()) return utc;
    const auto when = utc_moment(utc);
    if (!when) return utc;
    const std::time_t moment = std::chrono::system_clock::to_time_t(*when);
    std::tm local{};
    if (::localtime_r(&moment, &local) == nullptr) return utc;
    char text[40];
    std::strftime(text, sizeof text, "%Y-%m-%d %H:%M:%S", &local);
    std::string name = local.tm_zone != nullptr ? local.tm_zone : "";
    // Zones without a name of their own have their offset for one.
    if (!offset_rule(chosen().zone).empty()) name = chosen().zone;
    if (!name.empty() && (name[0] == '+' || name[0] == '-')) name = "UTC" + name;
    return std::string(text) + " " + name;
}

std::string inches_per_hour(double mm_h) {
    return calib::fixed(mm_h / mm_per_inch, 3);
}

std::string inches_column(double mm_h) {
    if (!inches_shown()) return {};
    const std::string text = inches_per_hour(mm_h);
    constexpr std::size_t width = 8;
    return text.size() < width ? std::string(width - text.size(), ' ') + text : " " + text;
}

}  // namespace tipwright::program
