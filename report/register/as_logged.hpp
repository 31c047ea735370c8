// Whether a row is as the log left it. A row that was changed behind the register's back is neither changed
// further nor rested on: the entry that would follow holds its state as it then stands, and the change would
// look as if the register had made it. Private to report/register; all throw Stop: damaged, naming the row.
#pragma once

#include "report/register/rows.hpp"

namespace tipwright::report {

// The state of the row is that of the last entry about it. An id of 0 names no row, and nothing is said.
void must_be_as_logged(Database& database, const TableShape& shape, Id id);

template <class T>
void must_be_as_logged(Database& database, Id id) {
    must_be_as_logged(database, shape_of<T>(), id);
}

// A record with its run and whoever entered it.
void record_must_be_as_logged(Database& database, Id record);
// A certificate with everything it is drawn from: gauge, customer, station, records, order with what was
// found and adjusted, persons, the certificate it refers to, and those before it that it is compared with.
void certificate_must_rest_on_the_log(Database& database, Id certificate);

}  // namespace tipwright::report
