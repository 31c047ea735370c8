// What a record must have before a certificate, in whatever form, is made of it.
#pragma once

#include <optional>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

// Fault inconsistent: no step was finished (says why), a step without uncertainty or volume. That a run was
// broken off is a reservation: calib/decision/statement.hpp.
std::optional<Fault> check_results(const Record& record);

// Fault not_permitted: of no step anything can be stated.
std::optional<Fault> check_some_stated(const Record& record);

// Besides: the two are as left and as found, of one gauge, both static or neither.
std::optional<Fault> check_pair(const Record& as_left, const Record& as_found);

// "2026-03-02", with or without a time of day after it; a day that exists.
bool begins_with_date(std::string_view iso);

}  // namespace tipwright::report
