// Median of a sample: the middle value, of an even number the upper of the two in the middle; 0 of none.
#pragma once

#include <vector>

namespace tipwright::calib {

double median(std::vector<double> values);

}  // namespace tipwright::calib
