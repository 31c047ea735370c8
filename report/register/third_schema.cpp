// Schema version 3: the last entry of the log about a row is found by an index, for a row is held against it
// before anything rests on it (as_logged.hpp). SQLite keeps the place in the log (its key) in every index.
#include "report/register/migrations.hpp"

namespace tipwright::report {

Migration third_schema() {
    Migration out;
    out.version = 3;
    out.title = "the log by what it speaks of";
    out.needs = "1.1";
    out.for_writing_alone = true;
    out.sqlite_tables = {"CREATE INDEX audit_subject ON audit (subject_id)"};
    out.postgresql_tables = {"CREATE INDEX audit_subject ON audit (subject_id, subject, seq)"};
    return out;
}

}  // namespace tipwright::report
