// Which side of a bucket rests up before the first tip: from the command line, from the kind, or from whoever
// stands beside it.
#pragma once

#include <string>

#include "bench/descriptions/descriptions.hpp"

namespace tipwright::program {

// 'A', 'B', or 0: not known. `said`: A, B, unknown, or empty: a person at a terminal is asked on a real
// bench. Prints what is to be done, on standard error. Faults: usage (a spoon has no sides), those of the
// kind's file.
Result<char> side_up_of(const bench::GaugeDescription& gauge, bool real_bench, const std::string& said);

}  // namespace tipwright::program
