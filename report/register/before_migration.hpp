// What a register was before it is brought to a later schema: kept beside it, so that the program of before
// can go on with it. Private to report/register.
#pragma once

#include <span>
#include <string>

#include "report/register/migrations.hpp"

namespace tipwright::report {

// Brings a register that is there to the last of `wanted`; where that changes it, a whole copy of an SQLite
// register is made first: register.sqlite.before-N-TIME in `folder` (N: the schema it is brought to), on the
// disk before anything is changed. Of PostgreSQL none: the server's own backups are what there is. Throws
// Stop: as migrate(), and file_unwritable, disk_full; then nothing was changed.
void bring_up_to_date(Database& database, const std::string& folder, std::span<const Migration> wanted,
                      const std::string& now);

}  // namespace tipwright::report
