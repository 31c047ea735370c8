// Record as JSON text and back. Schema: templates/record.schema.json (JSON Schema draft 2020-12).
// The text is canonical: keys in the schema's order, one layout, shortest decimal numbers that read back to
// the same bits, so that equal records are equal bytes. Infinite degrees of freedom are written as null, as
// is a value that is not there. Units are in the keys. Round trip is exact, but for text that is not UTF-8,
// whose bad bytes become U+FFFD.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

inline constexpr std::string_view record_format = "tipwright record";
inline constexpr std::size_t max_record_bytes = 32u << 20;
inline constexpr std::size_t max_record_string_bytes = 64u << 10;
inline constexpr std::size_t max_record_list = 100000;

// Throws std::domain_error for a number that is not finite (degrees of freedom excepted): a record never
// holds one, so this is a bug of whoever made it.
std::string record_to_json(const Record& record);

// `name` is the file's name, for messages. Faults name the place as name: $.path.to[3].field:
// file_too_large, syntax, duplicate, missing_field, unknown_field, bad_value, unsupported_version.
Result<Record> record_from_json(std::string_view text, const std::string& name);

}  // namespace tipwright::report
