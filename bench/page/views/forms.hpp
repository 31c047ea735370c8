// Pieces that screens with forms and tables share. Pure.
#pragma once

#include "bench/page/desk/desk.hpp"
#include "bench/page/views/frame.hpp"

namespace tipwright::page {

// What a person typed as a number, with a point or a comma and a plus before it or none; none: it is no
// finite number.
std::optional<double> typed_number(std::string text);

Html hidden(std::string_view name, std::string_view value);
Html token_of(const Visitor& visitor);
// A labelled field; `kind`: "text", "search", "password", "date", "number".
Html field(const std::string& label, std::string_view name, std::string_view value, Html::Literal kind,
           bool needed = false);
Html choice(const std::string& label, std::string_view name, std::string_view value,
            const std::vector<Offer>& offers);
Html button(const std::string& text);
// In a trial: which passphrase opens everything.
Html trial_hint(const Visitor& visitor, const PageWords& words);
Html link(const std::string& path, const std::string& text);
// `<form method=post action=...>` with the token; to be closed by "</form>".
Html command_form(const Visitor& visitor, const std::string& path);
// A word of the register ("as found", "draft") in the language, or as it is.
std::string word_of_register(const PageWords& words, const std::string& text);
std::string cell_text(const PageWords& words, const report::Table::Value& value);

// Key of a word and what stands beside it; what is empty is left out.
using Facts = std::vector<std::pair<std::string, std::string>>;
Html facts_list(const PageWords& words, const Facts& facts);
Html card(const std::string& title, const Html& body, std::string_view place = {});
Html heading(const PageWords& words, std::string_view key);
Html alert(const std::string& text);
// Why nothing is issued, and what is to be done first; nothing while the check gauge is in control.
Html check_gauge_alert(const PageWords& words, const std::optional<CheckGaugeSeen>& seen);
// "A (at the screw nearest the terminal block)": the side, with the mark its kind gives it.
std::string side_name(const PageWords& words, const calib::SideMarks& marks, char side);
Html log_in_first(const Visitor& visitor, const PageWords& words);

// Of which column the cells lead somewhere: path + what stands there.
struct ColumnLink {
    std::string_view column;
    std::string path;
};
// Headings from the words column.NAME; columns of `left_out` are not shown. An empty table is a sentence.
// `today`: a due_on before it, or one that is no day (never calibrated), is marked; empty: none is.
Html table_of_rows(const PageWords& words, const report::Table& table, const std::vector<ColumnLink>& links,
                   const std::vector<std::string_view>& left_out = {}, std::string_view today = {});
bool is_past(const std::string& due_on, std::string_view today);
// "⚠ 2031-05-04 overdue" of a day that is past.
Html due_day(const PageWords& words, const std::string& due_on, std::string_view today);

}  // namespace tipwright::page
