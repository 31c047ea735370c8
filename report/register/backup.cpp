// Backup and restore, the same for both databases, so that a register also moves from one to the other.
// A backup folder holds documents/ (shared by all backups made into it: a document never changes) and, a
// backup, one folder named by its time: tables/<name>.jsonl (a row a line, as a JSON array) and backup.txt,
// which says what belongs to it with checksums:
//   tipwright register backup 1.1
//   made 2031-05-04T10:11:12Z
//   schema 1
//   audit SEQ HASH
//   table NAME ROWS SHA256      a table a line
//   end SHA256                  of all lines before
// The folder gets its name last, so what has it is whole. All tables are read in one snapshot.
#include <algorithm>
#include <charconv>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "calib/base/format_version.hpp"
#include "calib/base/joined.hpp"
#include "report/files/files.hpp"
#include "report/files/fingerprint.hpp"
#include "report/files/streams.hpp"
#include "report/register/connection.hpp"
#include "report/register/dates.hpp"
#include "report/register/maintenance.hpp"
#include "report/register/migrations.hpp"
#include "report/register/page_rows.hpp"
#include "report/register/transaction.hpp"
#include "report/register/unfinished.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t max_line_bytes = std::size_t{1} << 20;
constexpr FormatVersion newest_backup{1, 1};  // not below what its newest schema needs: a test holds it
constexpr std::string_view backup_heading = "tipwright register backup ";

std::string line_of(const Row& row) {
    nlohmann::json out = nlohmann::json::array();
    for (const Cell& cell : row.cells) {
        if (const auto* integer = std::get_if<std::int64_t>(&cell))
            out.push_back(*integer);
        else if (const auto* real = std::get_if<double>(&cell))
            out.push_back(*real);
        else if (const auto* text = std::get_if<std::string>(&cell))
            out.push_back(*text);
        else
            out.push_back(nullptr);
    }
    return out.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

// "table NAME ROWS SHA256"
std::string write_table(Database& database, const TableShape& table, const std::string& folder) {
    GrowingFile file(folder + "/" + table.name + ".jsonl", 0600);
    seal::Sha256 digest;
    std::int64_t count = 0;
    std::vector<Cell> after;
    for (;;) {
        std::string sql = "SELECT " + joined(table.columns, ", ") + " FROM " + table.name;
        std::vector<Cell> parameters = after;
        if (!after.empty()) {
            std::vector<std::string> places;
            for (std::size_t i = 0; i < after.size(); ++i) places.push_back(":p" + std::to_string(i + 1));
            sql += " WHERE (" + joined(table.key, ", ") + ") > (" + joined(places, ", ") + ")";
        }
        parameters.emplace_back(page_rows);
        sql += " ORDER BY " + joined(table.key, ", ") + " LIMIT :p" + std::to_string(parameters.size());
        std::int64_t rows = 0;
        database.each(sql, table.types, parameters, [&](const Row& row) {
            const std::string line = line_of(row);
            digest.add(line);
            file.append(line);
            ++rows;
            after.clear();
            for (const std::string& key : table.key)
                after.push_back(row.cells[static_cast<std::size_t>(
                    std::find(table.columns.begin(), table.columns.end(), key) - table.columns.begin())]);
        });
        count += rows;
        if (rows < page_rows) break;
    }
    must(file.commit());
    return "table " + table.name + " " + std::to_string(count) + " " + seal::to_hex(digest.bytes());
}

struct Manifest {
    std::string folder;  // of this backup
    std::string made;
    int schema = 0;
    std::int64_t audit_seq = 0;
    std::string audit_hash;
    struct Entry {
        std::int64_t rows = 0;
        std::string sha256;
    };
    std::vector<std::pair<std::string, Entry>> tables;
};

// "2031-05-04T101112Z".
bool is_backup_name(std::string_view name) {
    if (name.size() != 18) return false;
    std::string time(name);
    time.insert(13, ":").insert(16, ":");
    return is_utc_time(time);
}

// The folder itself when it is one backup, or the newest backup in it.
std::string backup_in(const std::string& folder) {
    namespace fs = std::filesystem;
    std::error_code unknown;
    if (fs::exists(folder + "/backup.txt", unknown)) return folder;
    std::string newest;
    std::error_code error;
    fs::directory_iterator it(folder, error);
    for (; !error && it != fs::directory_iterator(); it.increment(error)) {
        const std::string name = it->path().filename().string();
        if (name <= newest || name.find(".new") != std::string::npos) continue;
        // What cannot be looked into is left alone, as lost+found on a medium; but not what is named as a
        // backup is: an older one would be taken for the newest.
        if (fs::exists(it->path() / "backup.txt", unknown) || (unknown && is_backup_name(name)))
            newest = name;
    }
    if (error && error != std::errc::no_such_file_or_directory && error != std::errc::not_a_directory)
        throw Stop{read_fault(folder, error.value())};
    if (newest.empty()) stop(FaultCode::file_missing, "there is no backup here", folder, "check the folder");
    return folder + "/" + newest;
}

std::int64_t number(const std::string& word) {
    std::int64_t out = -1;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), out);
    return error == std::errc{} && end == word.data() + word.size() ? out : -1;
}

Manifest read_manifest(const std::string& folder) {
    Manifest out;
    out.folder = folder;
    const std::string path = folder + "/backup.txt";
    Result<std::string> text = read_file(path, 1 << 20);
    if (!text) throw Stop{text.fault()};
    const std::size_t end = text->rfind("end ");
    if (end == std::string::npos || text->substr(end) != "end " + sha256_hex(text->substr(0, end)) + "\n")
        stop(FaultCode::damaged, "the list of this backup was changed or cut short", path,
             "use another backup");
    seal::LineReader lines(*text, path);
    lines.next();
    if (!lines.line().starts_with(backup_heading))
        throw Stop{lines.fault(FaultCode::syntax, "not the list of a backup")};
    const auto version = readable_version(lines.line().substr(backup_heading.size()), newest_backup,
                                          "backup of a register", path);
    if (!version) throw Stop{version.fault()};
    while (lines.next()) {
        const std::vector<std::string> words = lines.words();
        if (words.size() == 2 && words[0] == "made") out.made = words[1];
        if (words.size() == 2 && words[0] == "schema") out.schema = static_cast<int>(number(words[1]));
        if (words.size() == 3 && words[0] == "audit") {
            out.audit_seq = number(words[1]);
            out.audit_hash = words[2];
        }
        if (words.size() == 4 && words[0] == "table")
            out.tables.emplace_back(words[1], Manifest::Entry{number(words[2]), words[3]});
    }
    return out;
}

Cell cell_of(const nlohmann::json& value, char type, const std::string& where) {
    if (value.is_null()) return std::monostate{};
    if (type == 'i' && value.is_number_integer()) return value.get<std::int64_t>();
    if (type == 'r' && value.is_number()) return value.get<double>();
    if (type == 't' && value.is_string()) return value.get<std::string>();
    stop(FaultCode::damaged, "a value of the wrong kind", where);
}

std::vector<Cell> cells_of_line(const std::string& line, const TableShape& table, const std::string& where) {
    const nlohmann::json values = nlohmann::json::parse(line, nullptr, false);
    if (!values.is_array() || values.size() != table.columns.size())
        stop(FaultCode::damaged, "the line is not a row of this table", where, "use another backup");
    std::vector<Cell> out;
    for (std::size_t i = 0; i < values.size(); ++i) out.push_back(cell_of(values[i], table.types[i], where));
    return out;
}

void load_table(Database& database, const TableShape& table, const Manifest& manifest) {
    const std::string path = manifest.folder + "/tables/" + table.name + ".jsonl";
    const auto entry = std::find_if(manifest.tables.begin(), manifest.tables.end(),
                                    [&](const auto& candidate) { return candidate.first == table.name; });
    if (entry == manifest.tables.end()) stop(FaultCode::damaged, "the backup lacks this table", path);
    std::vector<std::string> places;
    for (std::size_t i = 0; i < table.columns.size(); ++i) places.push_back(":p" + std::to_string(i + 1));
    const std::string sql = "INSERT INTO " + table.name + " (" + joined(table.columns, ", ") + ") VALUES (" +
                            joined(places, ", ") + ")";
    seal::Sha256 digest;
    std::int64_t rows = 0;
    std::string line;  // as far as it was read
    must(read_pieces(path, [&](std::string_view piece) -> Outcome {
        digest.add(piece);
        for (std::size_t end = 0; (end = piece.find('\n')) != std::string_view::npos;
             piece.remove_prefix(end + 1)) {
            line += piece.substr(0, end);
            const std::string where = path + ":" + std::to_string(++rows);
            database.run(sql, cells_of_line(line, table, where));
            line.clear();
        }
        line += piece;
        if (line.size() > max_line_bytes)
            return Fault{FaultCode::damaged, "a line is too long", path + ":" + std::to_string(rows + 1), ""};
        return Done{};
    }));
    if (!line.empty() || rows != entry->second.rows || seal::to_hex(digest.bytes()) != entry->second.sha256)
        stop(FaultCode::damaged, "the file was changed or cut short after the backup", path,
             "use another backup");
    if (table.own_id && database.dialect() == Dialect::postgresql)
        database.row(
            "SELECT setval(pg_get_serial_sequence(:p1, 'id'), coalesce(max(id), 0) + 1, false) FROM " +
                table.name,
            "i", {table.name});
}

void load(Register::Impl& impl, const Manifest& manifest) {
    Database& database = *impl.database;
    Transaction transaction(database);
    for (const Migration& migration : migrations())
        if (migration.version <= manifest.schema) apply(database, migration, Part::tables);
    database.run("DELETE FROM audit_head");
    for (const TableShape* table : all_shapes())
        if (table->since <= manifest.schema) load_table(database, *table, manifest);
    const AuditHead head = read_audit_head(database);
    if (head.seq != manifest.audit_seq || head.hash != manifest.audit_hash)
        stop(FaultCode::damaged, "the audit log is not the one the backup's list names", manifest.folder);
    for (const Migration& migration : migrations())
        if (migration.version <= manifest.schema) {
            apply(database, migration, Part::guards);
            note_migration(database, migration);
        }
    // Documents before the commit, as when issuing.
    const std::unique_ptr<DocumentStore> source =
        folder_store((std::filesystem::path(manifest.folder).parent_path() / "documents").string());
    std::vector<std::string> names;
    each_named_document(database, [&](const std::string& sha256) { names.push_back(sha256); });
    for (const std::string& sha256 : names)
        if (!impl.documents->has(sha256)) impl.documents->put(source->get(sha256));
    transaction.commit();
}

// A register in a folder that comes to nothing: what was not there before goes again. Made before the
// register is opened, it ends after it is closed.
class Made {
public:
    explicit Made(const std::string& location) {
        if (is_postgresql(location)) return;
        const std::filesystem::path folder = location;
        std::error_code ignored;
        // Of a register that is there nothing is touched: another program may be writing beside it.
        if (std::filesystem::exists(folder / "register.sqlite", ignored)) return;
        for (const auto& one : {folder, folder / "register.sqlite", folder / "register.sqlite-wal",
                                folder / "register.sqlite-shm", folder / "documents"})
            if (!std::filesystem::exists(one, ignored)) made_.push_back(one);
    }
    ~Made() {
        std::error_code ignored;
        if (!kept_)
            for (const auto& one : made_) std::filesystem::remove_all(one, ignored);
    }
    Made(const Made&) = delete;
    Made& operator=(const Made&) = delete;
    void keep() { kept_ = true; }

private:
    std::vector<std::filesystem::path> made_;
    bool kept_ = false;
};

}  // namespace

Outcome Register::backup(const std::string& folder, const std::string& now) {
    return snapshot(*impl_, [&] {
        if (!is_utc_time(now)) stop(FaultCode::bad_value, in_quotes(now) + " is not a UTC time", "now");
        std::string name = now;
        std::erase(name, ':');
        const std::string target = folder + "/" + name;
        must(make_folder(folder));
        if (std::error_code none; std::filesystem::exists(folder + "/register.sqlite", none))
            stop(FaultCode::not_permitted, "this folder holds the register itself: what takes one takes both",
                 folder, "name a folder on another disk");
        Unfinished unfinished(target, is_backup_name);
        std::error_code error;
        if (std::filesystem::exists(target, error))
            stop(FaultCode::duplicate, "a backup of this second is there already", target);
        must(make_folder(unfinished.path() + "/tables", 0700));
        Database& database = *impl_->database;
        const AuditHead head = read_audit_head(database);
        std::string list = std::string(backup_heading) + newest_backup.text() + "\nmade " + now +
                           "\nschema " + std::to_string(schema_version(database)) + "\naudit " +
                           std::to_string(head.seq) + " " + (head.hash.empty() ? "-" : head.hash) + "\n";
        for (const TableShape* table : all_shapes())
            list += write_table(database, *table, unfinished.path() + "/tables") + "\n";
        const std::unique_ptr<DocumentStore> copy = folder_store(folder + "/documents");
        // Documents were stored before the rows that name them, so all of the snapshot's are there.
        std::vector<std::string> names;
        each_named_document(database, [&](const std::string& sha256) {
            if (!copy->has(sha256)) names.push_back(sha256);
        });
        for (const std::string& sha256 : names) copy->put(impl_->documents->get(sha256));
        list += "end " + sha256_hex(list) + "\n";
        must(write_file(unfinished.path() + "/backup.txt", list, 0600));
        must(flush_folder(unfinished.path() + "/tables"));
        unfinished.finish();
        return Done{};
    });
}

Outcome Register::restore(const std::string& folder, const std::string& location, const std::string& now) {
    return answered([&] {
        if (!is_utc_time(now)) stop(FaultCode::bad_value, in_quotes(now) + " is not a UTC time", "now");
        Manifest manifest = read_manifest(backup_in(folder));
        if (manifest.audit_hash == "-") manifest.audit_hash.clear();
        if (manifest.schema < 1 || manifest.schema > migrations().back().version)
            stop(FaultCode::unsupported_version,
                 "the backup has schema version " + std::to_string(manifest.schema) +
                     ", this program knows up to " + std::to_string(migrations().back().version),
                 manifest.folder, "use the newer tipwright");
        Made made(location);
        std::unique_ptr<Impl> impl = Impl::open(location, Impl::How::create);
        if (schema_version(*impl->database) != 0)
            stop(FaultCode::duplicate, "there is a register already", impl->database->where(),
                 "restore into an empty place");
        // An empty schema_versions, made as on any opening; its rows come with the tables.
        migrate(*impl->database, {});
        load(*impl, manifest);
        migrate(*impl->database, migrations());
        Register restored(std::move(impl));
        Result<InspectionReport> report = restored.inspect(nullptr);
        if (!report) throw Stop{report.fault()};
        if (!report->faults.empty()) throw Stop{report->faults.front()};
        made.keep();
        return Done{};
    });
}

}  // namespace tipwright::report
