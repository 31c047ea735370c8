// Versions of the register's schema. A register is brought to the newest version when it is opened, one
// version a transaction: whole or not at all. What was applied is kept with a checksum, so a register made by
// a differing program is told. Guards (triggers) are kept apart from tables, because a restore loads before
// it guards.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "report/register/database.hpp"

namespace tipwright::report {

// Statements for both databases. $id $int $text $real $end stand for what differs between the two.
struct Migration {
    int version = 0;
    std::string title;
    std::string needs = "1.0";  // the release of tipwright that brought it; kept beside it in the register
    // It is read without it too: only the finding of what is written needs it.
    bool for_writing_alone = false;
    std::vector<std::string> tables;
    std::vector<std::string> sqlite_tables;  // only there
    std::vector<std::string> postgresql_tables;
    std::vector<std::string> sqlite_guards;
    std::vector<std::string> postgresql_guards;

    std::string checksum() const;
};

// Ascending, from 1.
const std::vector<Migration>& migrations();

enum class Part { tables, guards };
void apply(Database& database, const Migration& migration, Part part);
// Version of the register; 0 when there is none.
int schema_version(Database& database);
// Brings the register up to the last of `wanted`. Throws Stop: unsupported_version when the
// register is newer than this program (named: the release that it needs), damaged when it was made by other
// statements.
void migrate(Database& database, std::span<const Migration> wanted);
// A version that is noted otherwise than this program notes it; 0: none; -1: of no migration. Before the
// releases were noted that column is empty.
int version_noted_otherwise(Database& database);
// The table of versions as registers have it that were begun before the releases were noted; SQLite.
std::vector<std::string> earlier_version_tables();
void note_migration(Database& database, const Migration& migration);

// The versions' statements, for migrations.cpp.
Migration first_schema();
Migration second_schema();
Migration third_schema();

}  // namespace tipwright::report
