// Serials: those of a register's gauges, for completing what is being typed. Only reads: a register of
// another version is neither brought up to date nor complained about.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace tipwright::report {

// Of the register in a folder, those that begin with `prefix`, by name, at most `limit`. Nothing where there
// is no register, where it cannot be read, or where it is a server (which might keep one waiting).
std::vector<std::string> gauge_serials(const std::string& location, const std::string& prefix,
                                       std::size_t limit);

}  // namespace tipwright::report
