// libharu has no call for marked content (ISO 32000-1 clause 14.6). The canvas writes an operator it never
// uses otherwise in its place, the miter limit, with a number that says what is meant; finish_pdf() replaces
// it.
#pragma once

namespace tipwright::report::certificate {

inline constexpr int end_of_mark = 10;        // EMC
inline constexpr int decoration_begins = 11;  // /Artifact BMC
inline constexpr int first_mark = 20;         // and the mark's number on its page added: BDC
// libharu writes no larger numbers.
inline constexpr int most_marks_a_page = 32000;

}  // namespace tipwright::report::certificate
