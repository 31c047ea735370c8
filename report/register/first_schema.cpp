// Schema version 1, made of the descriptions (describe.hpp). Once a release has used it, its statements are
// written down here as they were, and whatever changes in a description comes as a new version.
// Dates are ISO text ("2031-05-04", times UTC "2031-05-04T10:11:12Z"); they sort as text in both databases.
// Documents are named by their SHA-256, which the rows keep in base64; SQLite keeps them in a folder beside
// the database, PostgreSQL in a table.
#include "report/register/guards.hpp"
#include "report/register/migrations.hpp"
#include "report/register/rows.hpp"

namespace tipwright::report {

Migration first_schema() {
    Migration out;
    out.version = 1;
    out.title = "first schema";
    // A table before those that refer to it.
    for (const TableShape* shape : all_shapes())
        if (shape->since == 1) out.tables.push_back(shape->create);
    for (const char* index :
         {"gauges_due ON gauges (due_on) WHERE due_on IS NOT NULL",
          "gauges_customer ON gauges (customer_id, due_on)", "gauges_station ON gauges (station_id, due_on)",
          "gauges_kind ON gauges (kind)", "orders_gauge ON orders (gauge_id)",
          "findings_order ON findings (order_id)", "adjustments_order ON adjustments (order_id)",
          "records_run ON records (run_id)", "certificates_gauge ON certificates (gauge_id, calibrated_on)",
          "certificates_open ON certificates (state) WHERE state IN ('draft', 'checked')",
          "certificates_refers ON certificates (refers_to) WHERE refers_to IS NOT NULL",
          "calibrations_used ON certificate_calibrations (certificate_id)"})
        out.tables.push_back(std::string("CREATE INDEX ") + index);
    out.tables.emplace_back("INSERT INTO audit_head (one, seq, at, hash) VALUES (1, 0, '', '')");
    // "tipw" as a number: tells a register from any other SQLite file.
    out.sqlite_tables = {"PRAGMA application_id = 1953067127"};
    out.postgresql_tables = {"CREATE TABLE documents (sha256 $text PRIMARY KEY, bytes BYTEA NOT NULL)",
                             // Already compressed: PDF streams, and small.
                             "ALTER TABLE documents ALTER COLUMN bytes SET STORAGE EXTERNAL"};
    out.sqlite_guards = sqlite_guards_1();
    out.postgresql_guards = postgresql_guards_1();
    return out;
}

}  // namespace tipwright::report
