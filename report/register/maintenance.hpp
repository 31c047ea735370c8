// What inspecting, tidying, backing up and restoring share. Private to report/register.
#pragma once

#include <array>
#include <functional>
#include <string>
#include <vector>

#include "report/register/impl.hpp"

namespace tipwright::report {

// Names of all documents that a row names. Held as their first 16 bytes: a million certificates name
// millions.
class NamedDocuments {
public:
    explicit NamedDocuments(Database& database);
    bool has(const std::string& sha256) const;

private:
    std::vector<std::array<char, 16>> names_;  // sorted
};

// Every name once a row that names it, in pages.
void each_named_document(Database& database, const std::function<void(const std::string& sha256)>& take);

// Every row the audit log keeps the whole of, with what the log should say.
void each_detail(
    Database& database,
    const std::function<void(const std::string& subject, Id id, const std::string& detail)>& take);

// Tables of the schema in an order in which they can be loaded.
struct TableShape {
    std::string name;
    std::vector<std::string> columns;
    std::string types;             // letters as in Database::each
    std::vector<std::string> key;  // columns that order it, from the first
    bool own_id = false;           // id drawn from a sequence in PostgreSQL
};
const std::vector<TableShape>& table_shapes();

}  // namespace tipwright::report
