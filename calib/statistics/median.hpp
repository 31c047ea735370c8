// Median of a sample: the middle value; of an even number of values the upper of the middle two; 0 of none.
#pragma once

#include <vector>

namespace tipwright::calib {

double median(std::vector<double> values);

}  // namespace tipwright::calib
