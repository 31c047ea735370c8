// What this record's results may have in common with those of others: the rim by gauge and
// measurement; balance, measure and tip counter by serial number and certificate. What is not named is of
// this run alone.
#pragma once

#include "calib/rate/common_causes.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

calib::CommonCauses causes_of(const Record& record);

}  // namespace tipwright::report
