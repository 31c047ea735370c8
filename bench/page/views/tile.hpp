// The tile of one lane: what run_screens.hpp puts together. Pure.
#pragma once

#include "bench/page/views/run_screens.hpp"

namespace tipwright::page {

// "r3.error".
std::string place_name(const RunFacts& run, std::string_view name);
// Complete, of a gauge that is known: it can be adjusted, its certificate drafted.
bool goes_on(const RunFacts& run);
// Ended before its end: it can be gone on with, or closed.
bool is_unfinished(const RunFacts& run);
// What somebody has to do now; empty: nothing.
std::string hand_text(const RunFacts& run, const PageWords& words);
Html tile(const Visitor& visitor, const PageWords& words, const RunFacts& run);
Html stop_form(const Visitor& visitor, const PageWords& words, const RunFacts& run);

}  // namespace tipwright::page
