// What came out of a run, in words. Pure.
#pragma once

#include <string>

#include "bench/page/live/came_out.hpp"
#include "bench/page/views/page_words.hpp"

namespace tipwright::page {

// The verdict with a sign before it, as it is read from afar.
std::string verdict_text(const CameOut& out, const PageWords& words);
// Each reservation as page 1 of the certificate states it, on a line of its own after a line feed.
std::string reservations_text(const CameOut& out, const PageWords& words);

}  // namespace tipwright::page
