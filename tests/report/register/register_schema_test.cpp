// What the database demands of what it holds is what the register makes: whatever was loosened is told.
#include "report/register/migrations.hpp"
#include "tests/report/behind_its_back.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

bool told(Laboratory<OnSqlite>& lab, const std::string& what) {
    return told_of(got(lab.another().inspect(nullptr)), what);
}

// The statement of a table as it stands in the schema, changed; the rows stay.
void restate(Database& raw, const std::string& table, const std::string& from, const std::string& to) {
    raw.run("PRAGMA writable_schema = ON");
    raw.run("UPDATE sqlite_master SET sql = replace(sql, '" + from + "', '" + to + "') WHERE name = '" +
            table + "'");
    raw.run("PRAGMA writable_schema = RESET");
}

}  // namespace

TEST_CASE("register: on SQLite a schema that was loosened is told, to the letter") {
    Laboratory<OnSqlite> lab;
    lab.certified("EX-1");
    lab.inspected();
    const std::unique_ptr<Database> raw = lab.raw();
    SECTION("each table no longer strict, and text in it as bytes") {
        for (const TableShape* shape : all_shapes()) {
            INFO(shape->name);
            restate(*raw, shape->name, "STRICT", "");
            CHECK(told(lab, "table " + shape->name + " is not as the register makes it"));
            const std::string sql =
                raw->row("SELECT sql FROM sqlite_master WHERE name = :p1", "t", {shape->name})->text(0);
            const std::string end = shape->part_of.empty() ? "\n) " : "\n) , WITHOUT ROWID";
            const std::string good = shape->part_of.empty() ? "\n) STRICT" : "\n) STRICT, WITHOUT ROWID";
            CHECK(sql.ends_with(end));
            restate(*raw, shape->name, end, good);
        }
        lab.inspected();
        // Bytes where text belongs, and strict again: the database itself tells.
        restate(*raw, "gauges", "STRICT", "");
        raw->run("UPDATE gauges SET note = CAST('hidden' AS BLOB)");
        restate(*raw, "gauges", "\n) ", "\n) STRICT");
        CHECK(told(lab, "gauges"));
    }
    SECTION("what a table demands") {
        const std::vector<std::vector<std::string>> changes{
            {"certificates", "CHECK (checked_by IS NULL OR checked_by <> drafted_by)", "CHECK (1)"},
            {"findings", "found TEXT NOT NULL", "found TEXT"},
            {"findings", " REFERENCES orders (id)", ""},
            {"people", "name_key TEXT NOT NULL", "name_key TEXT COLLATE NOCASE NOT NULL"},
            {"findings", "found TEXT NOT NULL", "found TEXT NOT NULL DEFAULT ''''"},
            {"schema_versions", "checksum TEXT NOT NULL", "checksum TEXT"}};
        for (const auto& change : changes) {
            INFO(change[1]);
            restate(*raw, change[0], change[1], change[2]);
            CHECK(told(lab, "table " + change[0] + " is not as the register makes it"));
            if (!change[2].empty()) {
                std::string made = change[2];
                if (made.ends_with("''''")) made = made.substr(0, made.size() - 4) + "''''";
                restate(*raw, change[0], made, change[1]);
            } else {
                restate(*raw, change[0], "order_id INTEGER NOT NULL",
                        "order_id INTEGER NOT NULL REFERENCES orders (id)");
            }
        }
        lab.inspected();
    }
    SECTION("what is more, or less") {
        raw->run("CREATE TABLE extra (x)");
        CHECK(told(lab, "table extra is not one of the register's"));
        raw->run("DROP TABLE extra");
        raw->run("CREATE UNIQUE INDEX one_order ON findings (order_id) WHERE id > 2");
        CHECK(told(lab, "index one_order is not one of the register's"));
        raw->run("DROP INDEX one_order");
        raw->run("DROP INDEX gauges_due");
        CHECK(told(lab, "index gauges_due was taken away"));
        raw->run("CREATE INDEX gauges_due ON gauges (due_on) WHERE due_on IS NOT NULL");
        raw->run("PRAGMA user_version = 77");
        CHECK(told(lab, "number user_version"));
        raw->run("PRAGMA user_version = 0");
        raw->run("ANALYZE");
        lab.inspected();
        raw->run("ALTER TABLE gauges ADD COLUMN hidden TEXT");
        CHECK(told(lab, "table gauges is not as the register makes it"));
    }
}

TEST_CASE("register: its table of versions may be of any release") {
    Laboratory<OnSqlite> lab;
    const std::unique_ptr<Database> raw = lab.raw();
    raw->run("ALTER TABLE schema_versions DROP COLUMN needs");
    lab.inspected();
    raw->run("ALTER TABLE schema_versions ADD COLUMN needs TEXT");
    lab.inspected();
    raw->run("UPDATE schema_versions SET needs = '9.9' WHERE version = 1");
    CHECK(told(lab, "versions of its schema was changed"));
}

TEST_CASE("register: on PostgreSQL columns, constraints and indexes that were changed are told") {
    Laboratory<OnPostgresql> lab;
    lab.certified("EX-1");
    lab.inspected();
    const std::unique_ptr<Database> raw = lab.raw();
    const auto says = [&](const std::string& what) { return told_of(got(lab.reg.inspect(nullptr)), what); };
    raw->run("ALTER TABLE findings ALTER COLUMN found DROP NOT NULL");
    CHECK(says("column findings.found is not as the register makes it"));
    raw->run("ALTER TABLE findings ALTER COLUMN found SET NOT NULL");
    raw->run("ALTER TABLE findings ALTER COLUMN found TYPE VARCHAR");
    CHECK(says("column findings.found is not as the register makes it"));
    raw->run("ALTER TABLE findings ALTER COLUMN found TYPE TEXT COLLATE \"C\"");
    lab.inspected();
    raw->run("ALTER TABLE people DROP CONSTRAINT people_name_key_key");
    CHECK(says("constraints of people is not as the register makes it"));
    raw->run("ALTER TABLE people ADD UNIQUE (name_key)");
    raw->run("ALTER TABLE findings DROP CONSTRAINT findings_order_id_fkey");
    CHECK(says("constraints of findings is not as the register makes it"));
    raw->run("ALTER TABLE findings ADD FOREIGN KEY (order_id) REFERENCES orders (id)");
    raw->run("ALTER TABLE orders ADD CHECK (id < 3)");
    CHECK(says("constraints of orders is not as the register makes it"));
    raw->run("ALTER TABLE orders DROP CONSTRAINT orders_id_check");
    raw->run("CREATE UNIQUE INDEX one_order ON findings (order_id) WHERE id > 2");
    CHECK(says("index one_order is not one of the register's"));
    raw->run("DROP INDEX one_order");
    raw->run("DROP INDEX gauges_due");
    CHECK(says("index gauges_due was taken away"));
    raw->run("CREATE INDEX gauges_due ON gauges (due_on) WHERE due_on IS NOT NULL");
    lab.inspected();
    raw->run("ALTER TABLE gauges ADD COLUMN hidden TEXT");
    CHECK(says("column gauges.hidden is not one of the register's"));
}
