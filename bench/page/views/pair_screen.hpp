// What a device sees over a network until it is paired: the form for the code, and nothing else. Pure.
#pragma once

#include "bench/page/views/html.hpp"
#include "bench/page/views/page_words.hpp"

namespace tipwright::page {

// The whole document. `code`: as it came with the link of the square code; `wrong`: why the last try failed.
Html pair_screen(const PageWords& words, const std::string& code, const std::string& wrong);

}  // namespace tipwright::page
