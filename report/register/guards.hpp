// Guards, a version of the schema each: triggers that keep what must not change, whoever writes to the
// database.
//   certificates: draft -> checked -> issued, or back to draft, or discarded; issued and discarded ones stay
//   as they are; what a draft says is fixed once it is checked; numbers are given without gaps; records,
//   runs' sources, the audit log and what an issued certificate rests on are never changed or deleted.
#pragma once

#include <string>
#include <vector>

namespace tipwright::report {

std::vector<std::string> sqlite_guards_1();
std::vector<std::string> postgresql_guards_1();
std::vector<std::string> sqlite_guards_2();
std::vector<std::string> postgresql_guards_2();

}  // namespace tipwright::report
