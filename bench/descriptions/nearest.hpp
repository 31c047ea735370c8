// Which known name was meant by one that is not known: of a file, a key, a column, a command or an option.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace tipwright::bench {

// The known name that it is most like, the first of several; empty where none is near. Near: one letter of a
// short name, two or a quarter of a longer one are missing, too many, others or exchanged (optimal string
// alignment distance; the share is common practice, no source), or one of the two begins with the other.
std::string nearest(std::string_view name, const std::vector<std::string>& known);

}  // namespace tipwright::bench
