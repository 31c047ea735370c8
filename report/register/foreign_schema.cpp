#include "report/register/foreign_schema.hpp"

#include <map>
#include <set>
#include <string>

#include "calib/base/text.hpp"
#include "report/register/migrations.hpp"
#include "report/register/rows.hpp"

namespace tipwright::report {
namespace {

// What is there, by name ("table gauges"), each as the one who compares wants it said.
using Things = std::map<std::string, std::string>;

std::vector<Fault> differences(const std::string& where, const Things& there, const Things& own) {
    constexpr std::size_t shown = 80;
    std::vector<Fault> out;
    const auto add = [&](const std::string& which, const char* what) {
        out.push_back({FaultCode::damaged, first_bytes(which, shown) + what, where, ""});
    };
    for (const auto& [name, made] : own) {
        const auto found = there.find(name);
        if (found == there.end())
            add(name, " was taken away");
        else if (found->second != made)
            add(name, " is not as the register makes it: what it demands of its values was changed");
    }
    for (const auto& [name, made] : there)
        if (!own.contains(name)) add(name, " is not one of the register's");
    return out;
}

// --- SQLite ---

// What ANALYZE notes for the database's own use.
const std::set<std::string> of_the_database{"table sqlite_stat1", "table sqlite_stat4"};

Things made_in(Database& database) {
    Things out;
    for (const Row& row : database.rows("SELECT type || ' ' || name, tbl_name || ': ' || coalesce(sql, '') "
                                        "FROM sqlite_master WHERE type "
                                        "IN ('table', 'index')",
                                        "tt"))
        if (!of_the_database.contains(row.text(0))) out[row.text(0)] = row.text(1);
    for (const char* pragma : {"application_id", "user_version"})
        out[std::string("number ") + pragma] =
            std::to_string(database.row(std::string("PRAGMA ") + pragma, "i")->integer(0));
    return out;
}

std::vector<Fault> in_sqlite(Database& database) {
    const std::unique_ptr<Database> fresh = Database::in_memory();
    const int version = schema_version(database);
    std::vector<Migration> until;
    for (const Migration& migration : migrations())
        if (migration.version <= version) until.push_back(migration);
    migrate(*fresh, until);
    Things own = made_in(*fresh);
    const Things there = made_in(database);
    // The one table that came to be in more than one way.
    const std::string versions = "table schema_versions";
    const auto found = there.find(versions);
    for (const std::string& one : earlier_version_tables())
        if (found != there.end() && found->second == "schema_versions: " + one) own[versions] = found->second;
    return differences(database.where(), there, own);
}

// --- PostgreSQL ---

std::size_t count_of(const std::string& text, std::string_view what) {
    std::size_t out = 0;
    for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos; at += what.size()) ++out;
    return out;
}

std::string constraints_of(std::size_t checks, std::size_t references, std::size_t uniques) {
    return std::to_string(checks) + " checks, " + std::to_string(references) + " references, " +
           std::to_string(uniques) + " unique, 1 key";
}

// A line of a CREATE TABLE statement as describe() makes it is a column or a constraint.
void take_lines(const TableShape& shape, Things& out) {
    for (std::size_t i = 0; i < shape.columns.size(); ++i) {
        const std::string line_begin = "\n  " + shape.columns[i] + " ";
        const std::size_t at = shape.create.find(line_begin);
        const std::string line =
            at == std::string::npos ? "" : shape.create.substr(at + 1, shape.create.find('\n', at + 1) - at);
        const bool needed =
            line.find("NOT NULL") != std::string::npos || line.find("$id") != std::string::npos;
        const char type = shape.types[i];
        out["column " + shape.name + "." + small_letters(shape.columns[i])] =
            std::string(type == 'i'   ? "bigint"
                        : type == 'r' ? "double precision"
                                      : "text C") +
            (needed ? " NO" : " YES");
    }
    out["constraints of " + shape.name] =
        constraints_of(count_of(shape.create, "CHECK ("), count_of(shape.create, "REFERENCES "),
                       count_of(shape.create, "UNIQUE ("));
}

std::vector<Fault> in_postgresql(Database& database) {
    const int version = schema_version(database);
    Things own, there;
    std::string tables;
    for (const TableShape* shape : all_shapes()) {
        if (shape->since > version) continue;
        take_lines(*shape, own);
        tables += (tables.empty() ? "'" : ", '") + shape->name + "'";
    }
    for (const Row& row : database.rows(
             "SELECT 'column ' || table_name || '.' || lower(column_name), data_type || coalesce(' ' || "
             "collation_name, '') || ' ' || is_nullable FROM information_schema.columns WHERE table_schema = "
             "current_schema() AND table_name IN (" +
                 tables + ")",
             "tt"))
        there[row.text(0)] = row.text(1);
    for (const Row& row : database.rows(
             "SELECT 'constraints of ' || c.relname, count(*) FILTER (WHERE k.contype = 'c'), count(*) "
             "FILTER "
             "(WHERE k.contype = 'f'), count(*) FILTER (WHERE k.contype = 'u'), count(*) FILTER (WHERE "
             "k.contype = 'p') FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace LEFT JOIN "
             "pg_constraint k ON k.conrelid = c.oid AND k.convalidated AND k.contype IN ('c', 'f', 'u', 'p') "
             "WHERE c.relkind = 'r' AND n.nspname = current_schema() AND c.relname IN (" +
                 tables + ") GROUP BY c.relname",
             "tiiii"))
        there[row.text(0)] = row.integer(4) != 1 ? "no key"
                                                 : constraints_of(static_cast<std::size_t>(row.integer(1)),
                                                                  static_cast<std::size_t>(row.integer(2)),
                                                                  static_cast<std::size_t>(row.integer(3)));
    for (const Migration& migration : migrations()) {
        if (migration.version > version) continue;
        for (const auto* statements : {&migration.tables, &migration.postgresql_tables})
            for (const std::string& statement : *statements) {
                constexpr std::string_view begin = "CREATE INDEX ";
                if (statement.starts_with(begin))
                    own["index " + statement.substr(begin.size(),
                                                    statement.find(' ', begin.size()) - begin.size())] = "";
            }
    }
    for (const Row& row : database.rows(
             "SELECT 'index ' || i.relname FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid JOIN "
             "pg_class c ON c.oid = x.indrelid JOIN pg_namespace n ON n.oid = c.relnamespace LEFT JOIN "
             "pg_constraint k ON k.conindid = i.oid WHERE k.oid IS NULL AND x.indisvalid AND n.nspname = "
             "current_schema() AND c.relname IN (" +
                 tables + ")",
             "t"))
        there[row.text(0)] = "";
    return differences(database.where(), there, own);
}

}  // namespace

std::vector<Fault> foreign_schema(Database& database) {
    std::vector<Fault> out =
        database.dialect() == Dialect::sqlite ? in_sqlite(database) : in_postgresql(database);
    if (version_noted_otherwise(database) != 0)
        out.push_back({FaultCode::damaged, "what is noted of the versions of its schema was changed",
                       database.where(), ""});
    return out;
}

}  // namespace tipwright::report
