#include "report/files/inert_text.hpp"

namespace tipwright::report {

namespace {

constexpr std::string_view live = "=+-@\t\r";

// Begins a formula, perhaps behind apostrophes.
bool begins_formula(std::string_view field) {
    const std::size_t first = field.find_first_not_of('\'');
    return first != std::string_view::npos && live.find(field[first]) != std::string_view::npos;
}

}  // namespace

std::string inert(std::string_view field) {
    return (begins_formula(field) ? "'" : "") + std::string(field);
}

std::string from_inert(std::string_view field) {
    if (field.starts_with('\'') && begins_formula(field)) field.remove_prefix(1);
    return std::string(field);
}

std::string inert_line(std::string_view line) {
    std::string out;
    bool field_begins = false;
    for (const char c : line) {
        if (field_begins && c != ' ') {
            if (live.find(c) != std::string_view::npos) out += "'";
            field_begins = false;
        }
        if (c == ',' || c == ';' || c == '\t') field_begins = true;
        out += c;
    }
    return out;
}

}  // namespace tipwright::report
