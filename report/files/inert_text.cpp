#include "report/files/inert_text.hpp"

#include <algorithm>
#include <array>

#include "calib/base/csv.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::report {

namespace {

// What begins a formula; full width too, which spreadsheets of East Asia take for the same.
constexpr std::array<std::string_view, 10> live{"=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"};

bool begins_formula(std::string_view text) {
    return std::any_of(live.begin(), live.end(), [&](std::string_view one) { return text.starts_with(one); });
}

// At the beginnings of fields, behind what a reader passes over there: calls `on` where a formula would
// begin, with whether an apostrophe stands before it already; then its answer comes before the rest in the
// place of that apostrophe.
template <class On>
std::string at_formulas(std::string_view text, std::string_view separators, bool line_begins_field, On on) {
    std::string out;
    out.reserve(text.size() + 2);
    bool begins = line_begins_field;
    for (std::size_t at = 0; at < text.size(); ++at) {
        if (begins && begins_formula(text.substr(at))) {
            const bool kept = at > 0 && text[at - 1] == '\'';
            if (kept) out.pop_back();
            out += on(kept);
        }
        begins = separators.find(text[at]) != std::string_view::npos ||
                 (begins && (text[at] == ' ' || text[at] == '"' || text[at] == '\''));
        out += text[at];
    }
    return out;
}

std::string one_more(bool kept) {
    return kept ? "''" : "'";
}

}  // namespace

std::string inert(std::string_view field) {
    return at_formulas(field, ";\t", true, one_more);
}

std::string from_inert(std::string_view field) {
    return at_formulas(field, ";\t", true, [](bool) { return ""; });
}

std::string inert_line(std::string_view line) {
    return at_formulas(line, ",;\t", false, one_more);
}

std::string text_field(std::string_view text) {
    return csv_field(inert(visible(text)));
}

}  // namespace tipwright::report
