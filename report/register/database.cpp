#include "report/register/database.hpp"

#include <libpq-fe.h>
#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <map>
#include <optional>
#include <utility>

#include "report/register/connection.hpp"
#include "report/register/database_faults.hpp"
#include "report/register/refused_connection.hpp"
#include "report/register/sqlite_place.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t max_prepared = 200;

// One parameter or one column, with a fixed address for SOCI to read from or write to.
struct Slot {
    char type = 't';
    std::string text;
    long long integer = 0;
    double real = 0;
    soci::indicator indicator = soci::i_ok;
    std::string name;  // ":p1" without the colon
};

char type_of(const Cell& cell) {
    if (std::holds_alternative<std::int64_t>(cell)) return 'i';
    if (std::holds_alternative<double>(cell)) return 'r';
    return 't';  // NULL travels as text, which both databases take for any column
}

void put(Slot& slot, Cell&& cell) {
    slot.indicator = std::holds_alternative<std::monostate>(cell) ? soci::i_null : soci::i_ok;
    if (auto* integer = std::get_if<std::int64_t>(&cell)) slot.integer = *integer;
    if (auto* real = std::get_if<double>(&cell)) slot.real = *real;
    if (auto* text = std::get_if<std::string>(&cell)) slot.text = std::move(*text);
}

Cell get(const Slot& slot) {
    if (slot.indicator == soci::i_null) return std::monostate{};
    if (slot.type == 'i') return static_cast<std::int64_t>(slot.integer);
    if (slot.type == 'r') return slot.real;
    return slot.text;
}

struct Prepared {
    explicit Prepared(soci::session& session) : statement(session) {}
    soci::statement statement;
    std::vector<std::unique_ptr<Slot>> parameters;
    std::vector<std::unique_ptr<Slot>> columns;
};

void no_notice(void*, const char*) {}

}  // namespace

struct Database::Session {
    Dialect dialect = Dialect::sqlite;
    std::string where;
    std::string parameters;  // for SOCI
    std::vector<std::string> secrets;
    std::unique_ptr<soci::session> soci;
    std::map<std::string, std::unique_ptr<Prepared>, std::less<>> prepared;
    bool lost = false;
    bool read_only = false;

    void connect() {
        prepared.clear();
        soci.reset();
        try {
            if (dialect == Dialect::sqlite) {
                soci = std::make_unique<soci::session>(soci::sqlite3, parameters);
            } else {
                soci = std::make_unique<soci::session>(soci::postgresql, parameters);
                PQsetNoticeProcessor(
                    static_cast<soci::postgresql_session_backend*>(soci->get_backend())->conn_, no_notice,
                    nullptr);
            }
            lost = false;
        } catch (const soci::soci_error& error) {
            lost = true;
            if (dialect == Dialect::postgresql)
                throw Stop{refused_connection(parameters, where, said_by_database(error.what(), secrets))};
            throw Stop{fault_of(error)};
        }
    }

    Prepared& prepare(std::string_view sql, std::string_view columns, const std::vector<Cell>& cells) {
        if (lost)
            throw Stop{{FaultCode::database_unreachable, "the connection was lost", where, "try again"}};
        std::string key(sql);
        key.push_back('\0');
        for (const Cell& cell : cells) key.push_back(type_of(cell));
        key.push_back('\0');
        key.append(columns);
        if (const auto found = prepared.find(key); found != prepared.end()) return *found->second;
        if (prepared.size() >= max_prepared) prepared.clear();
        auto made = std::make_unique<Prepared>(*soci);
        for (std::size_t i = 0; i < cells.size(); ++i) {
            auto slot = std::make_unique<Slot>();
            slot->type = type_of(cells[i]);
            slot->name = "p" + std::to_string(i + 1);
            if (slot->type == 'i')
                made->statement.exchange(soci::use(slot->integer, slot->indicator, slot->name));
            if (slot->type == 'r')
                made->statement.exchange(soci::use(slot->real, slot->indicator, slot->name));
            if (slot->type == 't')
                made->statement.exchange(soci::use(slot->text, slot->indicator, slot->name));
            made->parameters.push_back(std::move(slot));
        }
        for (const char type : columns) {
            auto slot = std::make_unique<Slot>();
            slot->type = type;
            if (type == 'i') made->statement.exchange(soci::into(slot->integer, slot->indicator));
            if (type == 'r') made->statement.exchange(soci::into(slot->real, slot->indicator));
            if (type == 't') made->statement.exchange(soci::into(slot->text, slot->indicator));
            made->columns.push_back(std::move(slot));
        }
        made->statement.alloc();
        made->statement.prepare(std::string(sql));
        made->statement.define_and_bind();
        return *prepared.emplace(std::move(key), std::move(made)).first->second;
    }

    Fault fault_of(const soci::soci_error& error) {
        const std::string said = said_by_database(error.what(), secrets);
        if (const auto* sqlite = dynamic_cast<const soci::sqlite3_soci_error*>(&error))
            return sqlite_fault(sqlite->result(), said, where);
        if (dialect == Dialect::sqlite) return sqlite_fault(said, where);
        std::string state;
        if (const auto* postgres = dynamic_cast<const soci::postgresql_soci_error*>(&error))
            state = postgres->sqlstate();
        const bool connected =
            soci != nullptr &&
            PQstatus(static_cast<soci::postgresql_session_backend*>(soci->get_backend())->conn_) ==
                CONNECTION_OK;
        Fault out = postgresql_fault(state, said, where, connected);
        if (out.code == FaultCode::database_unreachable && state != "55P03") lost = true;
        return out;
    }
};

Database::Database(std::unique_ptr<Session> session) : session_(std::move(session)) {}
Database::~Database() = default;

std::unique_ptr<Database> Database::open_sqlite(const std::string& path, bool create) {
    const SqlitePlace place = create ? SqlitePlace{path, false} : sqlite_place(path);
    auto session = std::make_unique<Session>();
    session->dialect = Dialect::sqlite;
    session->where = path;
    session->read_only = place.cannot_be_written;
    session->parameters =
        place.cannot_be_written ? read_only_parameters(place, 0) : writing_parameters(place);
    session->connect();
    auto database = std::unique_ptr<Database>(new Database(std::move(session)));
    // 32 MiB: a register of a million certificates has indexes larger than the default 2 MiB.
    database->run("PRAGMA cache_size=-32768");
    if (place.cannot_be_written) return database;
    const std::optional<Row> mode = database->row("PRAGMA journal_mode=WAL", "t");
    if (!mode || mode->text(0) != "wal")
        throw Stop{{FaultCode::file_unwritable, "the write-ahead log cannot be used on this file system",
                    path, "keep the register on a local disk"}};
    // FULL: a commit has reached the disk before issue says so.
    database->run("PRAGMA synchronous=FULL");
    database->run("PRAGMA foreign_keys=ON");
    return database;
}

std::unique_ptr<Database> Database::look_at_sqlite(const std::string& path, int wait_s) {
    const SqlitePlace place = sqlite_place(path);
    refuse_unfinished(place);
    auto session = std::make_unique<Session>();
    session->dialect = Dialect::sqlite;
    session->where = path;
    session->read_only = true;
    session->parameters = read_only_parameters(place, wait_s);
    session->connect();
    auto database = std::unique_ptr<Database>(new Database(std::move(session)));
    database->run("PRAGMA cache_size=-32768");
    return database;
}

std::unique_ptr<Database> Database::in_memory() {
    auto session = std::make_unique<Session>();
    session->dialect = Dialect::sqlite;
    session->where = "memory";
    session->parameters = "dbname=:memory:";
    session->connect();
    return std::unique_ptr<Database>(new Database(std::move(session)));
}

std::unique_ptr<Database> Database::open_postgresql(const std::string& connection) {
    Result<Connection> read = read_connection(connection);
    if (!read) throw Stop{read.fault()};
    auto session = std::make_unique<Session>();
    session->dialect = Dialect::postgresql;
    session->where = read->place;
    session->parameters = read->words;
    session->secrets = read->secrets;
    session->connect();
    auto database = std::unique_ptr<Database>(new Database(std::move(session)));
    const std::optional<Row> encoding = database->row("SHOW server_encoding", "t");
    if (!encoding || encoding->text(0) != "UTF8")
        throw Stop{{FaultCode::bad_value, "the server's database does not keep its text as UTF8",
                    database->where(), "create the database WITH ENCODING 'UTF8'"}};
    return database;
}

Dialect Database::dialect() const {
    return session_->dialect;
}

const std::string& Database::where() const {
    return session_->where;
}

bool Database::read_only() const {
    return session_->read_only;
}

void Database::run(std::string_view sql, std::vector<Cell> parameters) {
    try {
        if (parameters.empty()) {
            if (session_->lost)
                throw Stop{
                    {FaultCode::database_unreachable, "the connection was lost", where(), "try again"}};
            *session_->soci << std::string(sql);
            return;
        }
        Prepared& prepared = session_->prepare(sql, "", parameters);
        for (std::size_t i = 0; i < parameters.size(); ++i)
            put(*prepared.parameters[i], std::move(parameters[i]));
        prepared.statement.execute(true);
    } catch (const soci::soci_error& error) {
        session_->prepared.clear();
        throw Stop{session_->fault_of(error)};
    }
}

void Database::each(std::string_view sql, std::string_view columns, std::vector<Cell> parameters,
                    const std::function<void(const Row&)>& take) {
    try {
        Prepared& prepared = session_->prepare(sql, columns, parameters);
        for (std::size_t i = 0; i < parameters.size(); ++i)
            put(*prepared.parameters[i], std::move(parameters[i]));
        prepared.statement.execute(false);
        Row row;
        row.cells.resize(columns.size());
        while (prepared.statement.fetch()) {
            for (std::size_t i = 0; i < columns.size(); ++i) row.cells[i] = get(*prepared.columns[i]);
            take(row);
        }
    } catch (const soci::soci_error& error) {
        session_->prepared.clear();
        throw Stop{session_->fault_of(error)};
    } catch (...) {
        session_->prepared.clear();  // a statement left half read keeps its snapshot open
        throw;
    }
}

std::vector<Row> Database::rows(std::string_view sql, std::string_view columns,
                                std::vector<Cell> parameters) {
    std::vector<Row> out;
    each(sql, columns, std::move(parameters), [&](const Row& row) { out.push_back(row); });
    return out;
}

std::optional<Row> Database::row(std::string_view sql, std::string_view columns,
                                 std::vector<Cell> parameters) {
    std::optional<Row> out;
    each(sql, columns, std::move(parameters), [&](const Row& row) {
        if (!out) out = row;
    });
    return out;
}

std::int64_t Database::insert(std::string_view sql, std::vector<Cell> parameters) {
    const std::optional<Row> made = row(sql, "i", std::move(parameters));
    if (!made) throw Stop{{FaultCode::damaged, "the database gave no id", where(), ""}};
    return made->integer(0);
}

void Database::begin_write() {
    if (session_->lost) session_->connect();
    run(session_->dialect == Dialect::sqlite ? "BEGIN IMMEDIATE" : "BEGIN");
}

void Database::begin_snapshot() {
    if (session_->lost) session_->connect();
    run(session_->dialect == Dialect::sqlite ? "BEGIN" : "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY");
}

void Database::commit() {
    run("COMMIT");
}

void Database::rollback() noexcept {
    try {
        session_->prepared.clear();
        if (!session_->lost) *session_->soci << "ROLLBACK";
    } catch (const std::exception&) {
        // SQLite may have rolled back by itself; a lost server has.
        if (session_->dialect == Dialect::postgresql) session_->lost = true;
    }
}

std::optional<double> Row::maybe_real(std::size_t i) const {
    if (null(i)) return std::nullopt;
    return real(i);
}

Cell nullable(const std::optional<double>& value) {
    return value ? Cell(*value) : Cell();
}

}  // namespace tipwright::report
