// Schema version 2: calibrations that others made, and checks in the field (beyond_bench.hpp). Gauges entered
// before keep what they are; nothing is filled in.
#include "report/register/guards.hpp"
#include "report/register/migrations.hpp"
#include "report/register/rows.hpp"

namespace tipwright::report {

Migration second_schema() {
    Migration out;
    out.version = 2;
    out.title = "calibrations elsewhere and field checks";
    for (const TableShape* shape : all_shapes())
        if (shape->since == 2) out.tables.push_back(shape->create);
    for (const char* index :
         {"calibrations_elsewhere_gauge ON calibrations_elsewhere (gauge_id, calibrated_on)",
          "field_checks_gauge ON field_checks (gauge_id, made_on)"})
        out.tables.push_back(std::string("CREATE INDEX ") + index);
    out.sqlite_guards = sqlite_guards_2();
    out.postgresql_guards = postgresql_guards_2();
    return out;
}

}  // namespace tipwright::report
