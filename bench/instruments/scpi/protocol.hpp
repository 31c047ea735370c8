// SCPI, protocol: the subset of IEEE 488.2 and SCPI-1999 that pumps, balances and sensors need. Pure.
// A response is a line ended by LF; its elements stand between commas. Numbers are NR1 "+12", NR2 "+12.30",
// NR3 "+1.230E+01" (IEEE 488.2-1992, 8.7.2 to 8.7.4). 9.9E37 is infinity, -9.9E37 its negative, 9.91E37 not a
// number (SCPI-1999 volume 1, 7.2.1.4 and 7.2.1.5): they become what they mean, never a value.
#pragma once

#include <boost/container/small_vector.hpp>
#include <optional>
#include <string>
#include <string_view>

namespace tipwright::bench {

struct ScpiNumber {
    enum class Kind { value, infinite, not_a_number };
    Kind kind = Kind::value;
    double value = 0;
    int decimals = 0;  // digits behind the point that the number shows: 1.230E+01 shows 12.30
};

// A number that fills the text whole. Taken as leniently as 488.2 asks of listeners: no sign, small e.
std::optional<ScpiNumber> read_scpi_number(std::string_view text);

// Elements of a response line, blanks around them taken off; commas in quoted strings do not divide.
using ScpiElements = boost::container::small_vector<std::string_view, 8>;
ScpiElements split_scpi(std::string_view line);

// Answer of SYSTem:ERRor?: number and words. 0 is no error.
struct ScpiError {
    int code = 0;
    std::string text;
};
std::optional<ScpiError> read_scpi_error(std::string_view line);

}  // namespace tipwright::bench
