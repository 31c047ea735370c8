// Identity words: how what instruments say of themselves is shown and compared. Whole: two of one maker may
// differ in the last character of a long answer alone.
#pragma once

#include <string>

namespace tipwright::bench {

// In quotes, hidden characters as escapes, never shortened: as the journal has it.
std::string whole_in_quotes(const std::string& answer);
// Whether the answer is the one that a journal has in quotes. Journals of versions before 1.1 have it
// shortened to 60 characters: more than those nobody can compare.
bool is_identity_in_quotes(const std::string& answer, const std::string& quoted);
// "A" instead of "B", of what differs; of long ones the part where they differ.
std::string instead_of(const std::string& said, const std::string& known);
// The same, of a known one in quotes.
std::string instead_of_quoted(const std::string& said, const std::string& quoted);

}  // namespace tipwright::bench
