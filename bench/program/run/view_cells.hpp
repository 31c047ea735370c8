// What the views of a run and of several lanes write alike.
#pragma once

#include <cstddef>
#include <optional>
#include <string>

namespace tipwright::program {

// Flush right in so many characters; "-" where there is no value.
std::string number_cell(const std::optional<double>& value, int decimals, std::size_t width);

// "1:02:03", rounded to seconds.
std::string hours_text(double seconds);

// Of a clock that is never set: for how often a view is drawn anew.
double monotonic_s();

}  // namespace tipwright::program
