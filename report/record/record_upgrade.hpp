// Records of earlier versions, brought to the present form before they are read.
#pragma once

#include <nlohmann/json_fwd.hpp>

namespace tipwright::report {

// Version 1 kept findings as English sentences and no statement: the sentences become remarks of the record
// ($.deviations); the statement is derived anew from what is left. Touches nothing that is not as version 1
// has it: the reader then names what is wrong.
void upgrade_from_1(nlohmann::json& record);

}  // namespace tipwright::report
