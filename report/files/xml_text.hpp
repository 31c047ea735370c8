// Text for the inside of XML, SVG and HTML, and for attribute values: & < > " and a carriage return are
// replaced, ' where it is asked for; characters that XML 1.0 does not allow (section 2.2) become U+FFFD.
#pragma once

#include <string>
#include <string_view>

namespace tipwright::report {

enum class Apostrophe { kept, replaced };  // replaced: for values between single quotes too

std::string xml_escaped(std::string_view text, Apostrophe apostrophe = Apostrophe::kept);

}  // namespace tipwright::report
