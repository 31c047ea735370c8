// What failed, in the language: what happened and what to do now, by the fault's code and, where one code
// means several things, by its place (templates/page/: [fault], [fault_next], [fault_place]). The rest of it,
// numbers too, stands in the program's own words, which are English: they are marked as such. Pure.
#pragma once

#include "bench/page/views/html.hpp"
#include "bench/page/views/page_words.hpp"

namespace tipwright::page {

// "Pump: No answer came in time. Check its power, cable and link." In English the fault's own words, which
// say more.
std::string fault_now(const PageWords& words, const Fault& fault);
// With the program's own words behind it, where it is not they already.
std::string fault_text(const PageWords& words, const Fault& fault);
// Those alone, as a paragraph; nothing in English.
Html own_words_of(const PageWords& words, const Fault& fault);

}  // namespace tipwright::page
