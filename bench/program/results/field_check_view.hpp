// What is said of a check in the field: on the terminal, and for machines.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "calib/decision/field_check.hpp"
#include "report/field_check/field_check_page.hpp"

namespace tipwright::program {

void print_field_check(const report::FieldCheckFacts& facts, const calib::FieldCheck& check);
nlohmann::ordered_json field_check_for_machines(const report::FieldCheckFacts& facts,
                                                const calib::FieldCheck& check);

}  // namespace tipwright::program
