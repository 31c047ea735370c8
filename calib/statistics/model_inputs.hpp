// Private to calib/statistics.
#pragma once

#include <cstddef>

namespace tipwright::calib {

// Of a model, whether its budget is made or its Monte Carlo run: the two are held against each other.
inline constexpr std::size_t most_inputs = 256;

}  // namespace tipwright::calib
