// The results of a record's steps as a table for people: values and expanded uncertainties with the digits
// that the certificate prints (two figures of U).
#pragma once

#include <cstddef>
#include <string>

#include "report/record/record.hpp"

namespace tipwright::program {

// Lines of text with a head; what is least wanted is left out where `width` characters do not hold it. Empty
// without steps.
std::string step_table(const report::Record& record, std::size_t width);

}  // namespace tipwright::program
