// Names as the register compares them. Private to report/register, but for persons (persons.hpp).
#pragma once

#include <string>
#include <string_view>

#include "report/register/persons.hpp"

namespace tipwright::report {

// Capitals without spaces.
std::string key_of(std::string_view text);
// Role and serial, or the description where it has none.
std::string instrument_key(std::string_view role, std::string_view description, std::string_view serial);

}  // namespace tipwright::report
