// Database: the one SQL layer of the register, the same over SQLite and PostgreSQL (by SOCI, seen only in
// database.cpp). Private to report/register: failures are thrown as Stop and turned into a Fault at the
// register's own functions, after the transaction was rolled back. Parameters are written :p1, :p2, ... in
// the SQL.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report {

struct Stop {
    Fault fault;
};
inline void must(const Outcome& outcome) {
    if (!outcome) throw Stop{outcome.fault()};
}

using Cell = std::variant<std::monostate, std::int64_t, double, std::string>;

class Row {
public:
    bool null(std::size_t i) const { return std::holds_alternative<std::monostate>(cells[i]); }
    std::int64_t integer(std::size_t i) const { return null(i) ? 0 : std::get<std::int64_t>(cells[i]); }
    double real(std::size_t i) const { return std::get<double>(cells[i]); }
    std::string text(std::size_t i) const {
        return null(i) ? std::string() : std::get<std::string>(cells[i]);
    }
    std::optional<double> maybe_real(std::size_t i) const;
    std::vector<Cell> cells;
};

enum class Dialect { sqlite, postgresql };

class Database {
public:
    // SQLite: path of the file, which must be there unless `create`. PostgreSQL: a libpq connection string.
    static std::unique_ptr<Database> open_sqlite(const std::string& path, bool create);
    // Only to read: nothing of the file is changed. Waits so long for who writes.
    static std::unique_ptr<Database> look_at_sqlite(const std::string& path, int wait_s);
    // SQLite without a file, gone with the object.
    static std::unique_ptr<Database> in_memory();
    static std::unique_ptr<Database> open_postgresql(const std::string& connection);
    ~Database();
    Database(const Database&) = delete;
    Database& operator=(const Database&) = delete;

    Dialect dialect() const;
    // For messages; never holds a password.
    const std::string& where() const;
    // Opened only to read, or on a medium or in a folder that cannot be written.
    bool read_only() const;

    // One statement without results.
    void run(std::string_view sql, std::vector<Cell> parameters = {});
    // `columns` gives a letter a column: t text, i integer, r real.
    void each(std::string_view sql, std::string_view columns, std::vector<Cell> parameters,
              const std::function<void(const Row&)>& take);
    std::vector<Row> rows(std::string_view sql, std::string_view columns, std::vector<Cell> parameters = {});
    std::optional<Row> row(std::string_view sql, std::string_view columns, std::vector<Cell> parameters = {});
    // INSERT ... RETURNING id
    std::int64_t insert(std::string_view sql, std::vector<Cell> parameters);

    // SQLite takes its write lock at once, so a transaction that writes never fails half-way for another
    // writer.
    void begin_write();
    // What is read is one state of the register, whatever others write meanwhile.
    void begin_snapshot();
    void commit();
    // Never throws; a lost connection is made anew by the next begin.
    void rollback() noexcept;

private:
    struct Session;
    explicit Database(std::unique_ptr<Session> session);
    std::unique_ptr<Session> session_;
};

Cell nullable(const std::optional<double>& value);

}  // namespace tipwright::report
