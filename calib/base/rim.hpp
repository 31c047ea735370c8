// How the catch diameter came about, where it was not this gauge's rim that was measured: the program's own
// words, which a record keeps and a certificate translates. A gauge's own words stand in their place where
// its rim was measured.
#pragma once

#include <string_view>

namespace tipwright::calib {

inline constexpr std::string_view rim_not_measured = "nominal diameter of the kind, rim not measured";
inline constexpr std::string_view rim_as_supplied = "as supplied";  // by others, who did not say how

}  // namespace tipwright::calib
