#include "calib/base/dates.hpp"

#include <algorithm>

namespace tipwright {

std::optional<std::chrono::year_month_day> iso_date(std::string_view text) {
    if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
    const auto number = [&](std::size_t at, std::size_t digits) {
        int out = 0;
        for (const char c : text.substr(at, digits))
            out = c >= '0' && c <= '9' && out >= 0 ? 10 * out + (c - '0') : -1;
        return out;
    };
    const int year = number(0, 4);
    const int month = number(5, 2);
    const int day = number(8, 2);
    if (year < 1900 || year > 2999 || month < 1 || day < 1) return std::nullopt;
    const std::chrono::year_month_day out{std::chrono::year(year),
                                          std::chrono::month(static_cast<unsigned>(month)),
                                          std::chrono::day(static_cast<unsigned>(day))};
    if (!out.ok()) return std::nullopt;
    return out;
}

bool is_iso_date(std::string_view text) {
    return iso_date(text).has_value();
}

}  // namespace tipwright
