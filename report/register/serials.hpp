// Serials, numbers and names that a register holds, for completing what is being typed. Only reads: a
// register of another version is neither brought up to date nor complained about.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace tipwright::report {

enum class Listed {
    gauge_serials,
    instrument_serials,
    certificates,    // numbers of issued ones
    drafts,          // that wait to be checked
    checked_drafts,  // that wait to be issued
    people,
    customers
};

// Of the register in a folder, those that begin with `prefix`, at most `limit`: the newest certificates and
// drafts, the others by name. Nothing where there is no register, where it cannot be read, or where it is a
// server (which might keep one waiting).
std::vector<std::string> listed(Listed what, const std::string& location, const std::string& prefix,
                                std::size_t limit);

}  // namespace tipwright::report
