// The register's other results (report/register/other_results.hpp) as a session opens them, and what is said
// where a name is looked for in a register that is not there.
#pragma once

#include "bench/program/register/session.hpp"
#include "report/register/other_results.hpp"

namespace tipwright::program {

// Faults: those of open_register().
Result<report::OtherResults> open_other_results(const Session& session);

// `none`, what is said of such a name, with where the register was looked for: one that was named is missing,
// or there is none of one's own.
Fault without_register(Fault none, const Session& session, const Fault& missing);

}  // namespace tipwright::program
