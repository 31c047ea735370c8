// Text for a table that a spreadsheet may open: a field that begins with = + - @ or a tab would be run as a
// formula there. An apostrophe before it makes it plain text, and is taken off again when the table is read
// back. Where the spreadsheet cuts at semicolons or tabs, a part of a field is one too, also behind a quote.
#pragma once

#include <string>
#include <string_view>

namespace tipwright::report {

std::string inert(std::string_view field);
// What inert() was given. Text that it never gives comes back as it is.
std::string from_inert(std::string_view field);
// A whole line of remarks, which a spreadsheet cuts into fields at each comma, semicolon or tab.
std::string inert_line(std::string_view line);
// The field of a text in a table that is handed out: visible, inert, in quotes where CSV wants them.
std::string text_field(std::string_view text);

}  // namespace tipwright::report
