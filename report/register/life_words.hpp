// Sentences of a gauge's life in English, for the terminal and for machines. templates/page/ has the same in
// each language ([life]); a test holds both to each other.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <utility>

#include "report/register/life.hpp"
#include "report/register/table.hpp"

namespace tipwright::report {

// Id and sentence with {placeholders}: the names of the part's numbers and names.
inline constexpr std::array<std::pair<std::string_view, std::string_view>, 27> life_sentences{{
    {"as_found", "as found"},
    {"as_left", "as left"},
    {"as_found_and_left", "as found and as left"},
    {"pass", "pass"},
    {"fail", "fail"},
    {"undecided", "undecided"},
    {"not_stated", "not stated"},
    {"no_limit", "no limit"},
    {"moved", "moved {percent} % at {at_mm_h} mm/h since {since}"},
    {"amendment_of", "amendment of {certificate}: {reason}"},
    {"replacement_of", "replacement of {certificate}: {reason}"},
    {"replaced_by", "replaced by {certificate}"},
    {"interval_agreed", "interval agreed with the customer"},
    {"screw", "screw of {side} {turns} turns"},
    {"elsewhere_by", "certificate {certificate} by {laboratory}"},
    {"elsewhere", "certificate {certificate} by another laboratory"},
    {"curve_point", "{intensity_mm_h} mm/h: {error_percent} % ± {U_percent} %"},
    {"poured", "poured"},
    {"collected", "collected"},
    {"tips", "{tips} tips"},
    {"error", "error {error_percent} %"},
    {"error_with_U", "error {error_percent} % ± {U_percent} %"},
    {"within", "pass against ±{limit_percent} %"},
    {"outside", "fail against ±{limit_percent} %"},
    {"undecided_against", "undecided against ±{limit_percent} %"},
    {"made_by", "by {person}"},
    {"kept_because", "kept because: {reason}"},
}};

// "as found; pass; bench 1".
std::string life_detail(const LifeEvent& event);
// Columns serial, model, date, event, certificate, detail.
Table life_table(const Life& life);
// Between a part and the one before it.
std::string_view before_part(const LifePart& part);

}  // namespace tipwright::report
