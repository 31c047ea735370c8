#include "report/seal/lines.hpp"

namespace tipwright::seal {

bool LineReader::next() {
    if (text_.empty()) return false;
    const std::size_t end = text_.find('\n');
    ++number_;
    if (end == std::string_view::npos) {
        line_ = {};  // a line cut short is no line
        text_ = {};
        return true;
    }
    line_ = text_.substr(0, end);
    text_.remove_prefix(end + 1);
    return true;
}

std::vector<std::string> LineReader::words() const {
    std::vector<std::string> out;
    std::string_view rest = line_;
    for (;;) {
        const std::size_t space = rest.find(' ');
        out.emplace_back(rest.substr(0, space));
        if (space == std::string_view::npos) return out;
        rest.remove_prefix(space + 1);
    }
}

Fault LineReader::fault(FaultCode code, std::string what) const {
    return {code, std::move(what), name_ + ":" + std::to_string(number_), ""};
}

bool is_iso_date(std::string_view text) {
    if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
    int parts[3] = {0, 0, 0};
    int part = 0;
    for (const char c : text) {
        if (c == '-') {
            ++part;
            if (part > 2) return false;
        } else if (c >= '0' && c <= '9') {
            parts[part] = parts[part] * 10 + (c - '0');
        } else {
            return false;
        }
    }
    const auto [year, month, day] = parts;
    if (part != 2 || year < 1900 || year > 2999 || month < 1 || month > 12) return false;
    const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    constexpr int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return day >= 1 && day <= days[month - 1] + (month == 2 && leap ? 1 : 0);
}

}  // namespace tipwright::seal
