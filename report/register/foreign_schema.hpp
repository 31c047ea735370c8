// The schema of a register against the one that its migrations make: tables, columns, what they demand of
// their values, indexes. Text in a column that takes anything, a row without the one that it refers to, a
// name that stands twice: what the database no longer refuses, no other check has to expect. Triggers and
// views: foreign_triggers.hpp. Private to report/register.
//   SQLite       every statement of sqlite_master, to the letter, against a register made afresh in memory
//   PostgreSQL   of the register's own tables: columns with type, sorting and NOT NULL, and how many
//                constraints of each kind hold; that its indexes are there. Not: the words of a constraint,
//                other tables (the database may be shared), storage
#pragma once

#include <vector>

#include "report/register/database.hpp"

namespace tipwright::report {

// Throws Stop.
std::vector<Fault> foreign_schema(Database& database);

}  // namespace tipwright::report
