// Files that travel inside a certificate, and how large one may be when unpacked.
#pragma once

#include <cstddef>
#include <string_view>

namespace tipwright::report {

inline constexpr std::string_view attached_record_name = "record.json";
inline constexpr std::string_view attached_as_found_name = "record-as-found.json";
inline constexpr std::size_t max_attachment_bytes = 32u << 20;

}  // namespace tipwright::report
