// A register changed behind its back: every column of every table edited, rows deleted and put in, whole
// chains of the log computed again by somebody who knows how it is made but has no key, and each demand of
// its schema taken away. What `register check` does not tell counts against the figure. Also each column of
// each row that a waiting certificate rests on, edited before it is issued: an issue counts against the
// figure. And a log that was computed again or cut is sealed, by `register seal` and by the next issue:
// neither refused nor told from then on counts too. An argument looks at that many rows of each table
// (default: all).
#include <sodium.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <set>

#include "report/files/files.hpp"
#include "report/files/fingerprint.hpp"
#include "report/register/audit.hpp"
#include "report/register/numbers_beside_keys.hpp"
#include "report/register/register.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/report/scratch_folder.hpp"
#include "tests/support/figure.hpp"

using namespace tipwright;
using namespace tipwright::report;
namespace fs = std::filesystem;

namespace {

template <class T>
T need(Result<T> result) {
    if (!result) {
        std::fprintf(stderr, "register_tampering_figures: %s\n", result.fault().line().c_str());
        std::exit(1);
    }
    return std::move(result.value());
}

void need_done(const Outcome& outcome) {
    if (!outcome) {
        std::fprintf(stderr, "register_tampering_figures: %s\n", outcome.fault().line().c_str());
        std::exit(1);
    }
}

struct Place {
    std::string location, keys, numbers;
};

Result<Documents> plain_documents(const IssueSheet& sheet) {
    Documents out;
    out.pdf = "%PDF-1.4\n% " + sheet.number + " " + sheet.seal.fingerprint + "\n%%EOF\n";
    out.xml = "<certificate number=\"" + sheet.number + "\"/>\n";
    out.others = {{"correction.csv", "interval_s,depth_mm\n1,0.2\n"}};
    return out;
}

Actor who(const char* name, const char* now) {
    return {name, now, true};
}

constexpr const char* last_work = "2026-03-05T09:00:00Z";

// Every table has rows in it, also the one of numbers left out after an older backup came back. Gives the
// certificate that waits to be issued.
Id fill(const Place& place) {
    const char* const morning = "2026-03-05T08:00:00Z";
    const char* const later = last_work;
    const seal::Passphrase secret("a passphrase");
    need(seal::make_keys(place.keys, secret, "2026-01-01", seal::PassphraseCost{1, 8192}));
    const auto key = need(seal::unlock_key(place.keys, secret));
    IssueOptions how;
    how.issued_numbers = place.numbers;
    need_done(begin_numbers(place.numbers, key, "2026-01-01"));
    const auto checked = [&](Register& reg, const char* serial, Id order, const char* day) {
        test::SampleOptions wish;
        Record record = test::sample_record(wish);
        record.number = "DRAFT";
        record.authorised_by.clear();
        record.issued_on.clear();
        record.identity.serial = serial;
        record.state = State::as_found;
        record.started_at = day + std::string("T08:14:00Z");
        record.ended_at = day + std::string("T10:51:20Z");
        record.source_sha256 = sha256_hex(std::string(serial) + day);
        Draft draft;
        draft.as_found = need(reg.enter_record(who("T. Technician", later), record, "B1"));
        draft.order = order;
        const Id id = need(reg.draft(who("T. Technician", later), draft));
        need_done(reg.mark_checked(who("C. Checker", later), id));
        return id;
    };
    const auto certify = [&](Register& reg, const char* serial) {
        const Id id = checked(reg, serial, 0, "2026-03-02");
        need(reg.issue(who("A. Signatory", later), id, "B1", key, plain_documents, how));
        return id;
    };
    Id waiting = 0;
    {
        Register reg = need(Register::open(place.location, morning, true));
        const Actor first = who("A. Signatory", morning);
        need(reg.put_person(first, {0, "A. Signatory", true, true, true, true}));
        need_done(reg.set_passphrase(first, "A. Signatory", seal::Passphrase("a long passphrase")));
        for (const char* name : {"T. Technician", "C. Checker"}) {
            need(reg.put_person(first, {0, name, true, name[0] == 'C', false, true}));
            need_done(reg.set_passphrase(first, name, seal::Passphrase("given by the first")));
            need_done(reg.set_passphrase(who(name, morning), name, seal::Passphrase("their own passphrase")));
        }
        const Id customer = need(reg.put_customer(
            first, {0, "Imaginary Network", "Elsewhere", "nobody", AgreedInterval{24, "order 1"}}));
        need(reg.put_station(first, {0, customer, "Hill (invented)", "a hill"}));
        certify(reg, "EX-1");
        const auto gauges = need(reg.gauges_with_serial("EX-1"));
        const Id order = need(reg.open_order(who("T. Technician", later),
                                             {0, gauges.front().id, "2026-03-04", "dusty", "as ever", ""}));
        need(reg.add_finding(who("T. Technician", later), {order, "2026-03-04", "insects", "cleaned"}));
        need(reg.add_adjustment(who("T. Technician", later),
                                {order, "2026-03-04", 0.25, -0.25, 0.01, -0.01, "turned"}));
        const ImportReport elsewhere = need(reg.import_calibrations(
            who("T. Technician", later),
            "serial,calibrated_on,certificate,laboratory,intensity_mm_h,error_percent,U_percent\n"
            "EX-1,2025-02-03,INV-77,Invented Laboratory East,100,-2.40,0.50\n",
            "elsewhere.csv"));
        for (const Fault& fault : elsewhere.faults) need_done(fault);
        FieldCheckEntry check;
        check.gauge = gauges.front().id;
        check.made_on = "2026-03-04";
        check.made_by = "T. Technician";
        check.method = "poured";
        check.tips = 98;
        check.volume_mL = 628.0;
        check.error_percent = -2.1;
        check.U_percent = 1.3;
        check.limit_percent = 5.0;
        check.verdict = "pass";
        need(reg.add_field_check(who("T. Technician", later), check));
        waiting = checked(reg, "EX-1", order, "2026-03-03");
        const auto raw = Database::open_sqlite(place.location + "/register.sqlite", false);
        const Id instrument = raw->row("SELECT min(id) FROM instruments", "i")->integer(0);
        need(reg.instrument_failed(who("A. Signatory", later), instrument, "2026-03-04", "2026-03-05",
                                   "drifted"));
    }
    const std::string copy = place.location + "-older";
    fs::copy(place.location, copy, fs::copy_options::recursive);
    {
        Register reg = need(Register::open(place.location, later));
        certify(reg, "EX-2");
    }
    fs::remove_all(place.location);
    fs::rename(copy, place.location);
    Register reg = need(Register::open(place.location, later));
    const Id id = certify(reg, "EX-3");
    if (need(reg.certificate(id)).number != "B1-2026-00003") {
        std::fprintf(stderr, "register_tampering_figures: a number was given twice\n");
        std::exit(1);
    }
    need_done(reg.seal_log(who("A. Signatory", later), key, place.numbers));
    return waiting;
}

class Campaign {
public:
    Campaign(Place place, Id waiting, std::size_t rows_each)
        : place_(std::move(place)), waiting_(waiting), rows_each_(rows_each) {
        key_.emplace(need(seal::unlock_key(place_.keys, seal::Passphrase("a passphrase"))));
        keys_.emplace(need(seal::PublicKeys::read(place_.keys + "/public-keys.txt")));
        pristine_ = place_.location + ".sqlite";
        // One file, with nothing waiting beside it.
        Database::open_sqlite(file(), false)->run("VACUUM INTO '" + pristine_ + "'");
        put_back();
        const auto raw = Database::open_sqlite(file(), false);
        for (const Row& row :
             raw->rows("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'", "ttt"))
            triggers_.push_back({row.text(0), row.text(2)});
    }

    // Nothing is told of what nobody touched.
    bool whole() { return !told(true) && !told(false); }

    void edit_every_column() {
        for (const TableShape* shape : all_shapes())
            for (const std::int64_t row : rows_of(*shape))
                for (std::size_t i = 0; i < shape->columns.size(); ++i)
                    for (const std::string& value : values_of(shape->types[i], shape->columns[i]))
                        attempt(edits, unnoticed_edits,
                                "UPDATE " + shape->name + " SET " + shape->columns[i] + " = " + value +
                                    " WHERE " + name_of(*shape, row) + " AND " + shape->columns[i] +
                                    " IS NOT " + value);
    }

    void delete_and_insert() {
        for (const TableShape* shape : all_shapes())
            for (const std::int64_t row : rows_of(*shape)) {
                attempt(rows, unnoticed_rows,
                        "DELETE FROM " + shape->name + " WHERE " + name_of(*shape, row));
                std::string taken;
                for (std::size_t i = 0; i < shape->columns.size(); ++i) {
                    const std::string& column = shape->columns[i];
                    const bool number = shape->types[i] == 'i';
                    const bool names = column == shape->key.back() || column.ends_with("_key") ||
                                       column == "name" || column == "identity" ||
                                       column == "source_sha256" || column == "sequence" ||
                                       column == "year" || column == "calibrated_on";
                    taken += (taken.empty() ? "" : ", ") +
                             (names ? column + (number ? " + 1000" : " || 'x'") : column);
                }
                attempt(rows, unnoticed_rows,
                        "INSERT INTO " + shape->name + " (" + shape->list() + ") SELECT " + taken + " FROM " +
                            shape->name + " WHERE " + name_of(*shape, row));
            }
    }

    // Whoever changes a row also writes the log anew so that it says so from the beginning.
    void compute_chains_again() {
        for (const TableShape* shape : all_shapes()) {
            if (shape->subject.empty()) continue;
            for (const std::int64_t row : rows_of(*shape))
                for (std::size_t i = 0; i < shape->columns.size(); ++i) {
                    if (!shape->stated[i] || shape->columns[i] == "id") continue;
                    const std::string value = values_of(shape->types[i], shape->columns[i]).front();
                    for (const Seals seals : {Seals::left, Seals::moved, Seals::taken})
                        forge(*shape, row,
                              "UPDATE " + shape->name + " SET " + shape->columns[i] + " = " + value +
                                  " WHERE " + name_of(*shape, row) + " AND " + shape->columns[i] +
                                  " IS NOT " + value,
                              seals);
                }
        }
        // The end of the log cut off, with whatever was sealed there: told by the note beside the keys.
        put_back();
        const std::int64_t last =
            Database::open_sqlite(file(), false)->row("SELECT max(seq) FROM audit", "i")->integer(0);
        for (std::int64_t seq = last - 1; seq > 0; --seq) {
            const auto cut = [&] {
                put_back();
                const auto raw = opened();
                raw->run("DELETE FROM audit WHERE seq > :p1", {seq});
                raw->run("DELETE FROM log_seals WHERE seq > :p1", {seq});
                raw->run(
                    "UPDATE audit_head SET seq = :p1, hash = (SELECT hash FROM audit WHERE seq = :p1), at = "
                    "(SELECT at FROM audit WHERE seq = :p1)",
                    {seq});
                guarded_again(*raw);
            };
            cut();
            ++chains;
            if (!told(true)) missed(unnoticed_chains, "log cut after " + std::to_string(seq));
            seal_over(cut, "log cut after " + std::to_string(seq));
        }
        put_back();
    }

    // What the database demands of its rows, each taken away by itself, and text kept as bytes.
    void loosen_schema() {
        for (const TableShape* shape : all_shapes()) {
            const std::string& table = shape->name;
            restate(table, "STRICT", "");
            for (std::size_t i = 0; i < shape->columns.size(); ++i) {
                const std::string& column = shape->columns[i];
                loosen(table + "." + column + " as bytes", [&](Database& raw) {
                    restated(raw, table, "STRICT", "");
                    raw.run("UPDATE " + table + " SET " + column + " = CAST(CAST(" + column +
                            " AS TEXT) AS BLOB)");
                });
                const char* type = shape->types[i] == 'i'   ? " INTEGER"
                                   : shape->types[i] == 'r' ? " REAL"
                                                            : " TEXT";
                restate(table, "  " + column + type + " NOT NULL", "  " + column + type);
                restate(table, "  " + column + type, "  " + column + type + " DEFAULT 1");
            }
            const std::string made = statement_of(table);
            for (const char* demand : {"CHECK (", "REFERENCES "})
                for (std::size_t at = 0; (at = made.find(demand, at)) != std::string::npos; ++at)
                    restate(table, made.substr(at, closing(made, at) - at),
                            demand[0] == 'C' ? "CHECK (1)" : "");
            loosen(table + " with a column more",
                   [&](Database& raw) { raw.run("ALTER TABLE " + table + " ADD COLUMN hidden TEXT"); });
            loosen(table + " with an index more", [&](Database& raw) {
                raw.run("CREATE INDEX other ON " + table + " (" + shape->columns.front() + ")");
            });
        }
        const auto raw = Database::open_sqlite(pristine_, false);
        for (const Row& row :
             raw->rows("SELECT name FROM sqlite_master WHERE type = 'index' AND sql <> ''", "t"))
            loosen("without " + row.text(0), [&](Database& one) { one.run("DROP INDEX " + row.text(0)); });
        loosen("a table more", [](Database& one) { one.run("CREATE TABLE extra (x)"); });
    }

    // Whatever the waiting certificate rests on is edited, and then the certificate issued.
    void issue_on_what_was_edited() {
        const auto key = need(seal::unlock_key(place_.keys, seal::Passphrase("a passphrase")));
        for (const auto& [table, id] : foundations())
            for (const TableShape* shape : all_shapes()) {
                if (shape->name != table) continue;
                for (std::size_t i = 0; i < shape->columns.size(); ++i) {
                    if (!shape->stated[i] || shape->columns[i] == "id") continue;
                    for (const std::string& value : values_of(shape->types[i], shape->columns[i]))
                        issue_after(key, table,
                                    "UPDATE " + table + " SET " + shape->columns[i] + " = " + value +
                                        " WHERE id = " + std::to_string(id) + " AND " + shape->columns[i] +
                                        " IS NOT " + value);
                }
            }
    }

    long sealings = 0, unnoticed_sealings = 0;
    long loosened = 0, unnoticed_loosened = 0, issues = 0, unnoticed_issues = 0;
    long edits = 0, unnoticed_edits = 0, rows = 0, unnoticed_rows = 0, chains = 0, unnoticed_chains = 0;

private:
    enum class Seals { left, moved, taken };

    std::string file() const { return place_.location + "/register.sqlite"; }

    void put_back() {
        for (const char* end : {"", "-wal", "-shm"}) fs::remove(file() + end);
        fs::copy_file(pristine_, file());
    }

    // Without guards, as whoever has the file can.
    std::unique_ptr<Database> opened() {
        auto raw = Database::open_sqlite(file(), false);
        raw->run("PRAGMA synchronous=OFF");
        raw->run("BEGIN");
        for (const auto& [name, sql] : triggers_) raw->run("DROP TRIGGER " + name);
        raw->run("COMMIT");
        raw->run("PRAGMA ignore_check_constraints=ON");
        raw->run("PRAGMA foreign_keys=OFF");
        return raw;
    }

    void guarded_again(Database& raw) {
        raw.run("BEGIN");
        for (const auto& [name, sql] : triggers_) raw.run(sql);
        raw.run("COMMIT");
    }

    // With the note beside the keys, or by the public keys alone.
    bool told(bool with_note) {
        auto reg = Register::open(place_.location, "2026-03-06T09:00:00Z");
        if (!reg) return true;
        const auto report = reg->inspect(&*keys_, with_note ? place_.numbers : std::string());
        return !report || !report->faults.empty();
    }

    void missed(long& count, const std::string& what) {
        ++count;
        std::printf("unnoticed: %s\n", what.c_str());
    }

    static void restated(Database& raw, const std::string& table, const std::string& from,
                         const std::string& to) {
        raw.run("PRAGMA writable_schema = ON");
        raw.run("UPDATE sqlite_master SET sql = replace(sql, :p1, :p2) WHERE name = :p3", {from, to, table});
        raw.run("PRAGMA writable_schema = RESET");
    }

    std::string statement_of(const std::string& table) {
        return Database::open_sqlite(pristine_, false)
            ->row("SELECT sql FROM sqlite_master WHERE name = :p1", "t", {table})
            ->text(0);
    }

    // Behind the bracket that closes the first one from here on.
    static std::size_t closing(const std::string& text, std::size_t at) {
        int depth = 0;
        for (; at < text.size(); ++at) {
            if (text[at] == '(') ++depth;
            if (text[at] == ')' && --depth == 0) return at + 1;
        }
        return at;
    }

    void restate(const std::string& table, const std::string& from, const std::string& to) {
        if (statement_of(table).find(from) == std::string::npos) return;
        loosen(table + ": " + from, [&](Database& raw) { restated(raw, table, from, to); });
    }

    template <class Change>
    void loosen(const std::string& what, Change change) {
        put_back();
        try {
            const auto raw = opened();
            change(*raw);
            guarded_again(*raw);
        } catch (const Stop&) {
            return;  // the database itself does not have it
        }
        ++loosened;
        if (!told(false)) missed(unnoticed_loosened, "schema: " + what);
    }

    // By what refers to what, from the waiting certificate on; with the work on its order, and all of the few
    // instruments and numbers that there are.
    std::set<std::pair<std::string, Id>> foundations() {
        const auto raw = Database::open_sqlite(pristine_, false);
        std::set<std::pair<std::string, Id>> out;
        std::vector<std::pair<std::string, Id>> next{{"certificates", waiting_}};
        const auto all_of = [&](const std::string& table, const std::string& condition) {
            for (const Row& row : raw->rows("SELECT id FROM " + table + " WHERE " + condition, "i"))
                next.emplace_back(table, row.integer(0));
        };
        const std::string order =
            "order_id = (SELECT order_id FROM certificates WHERE id = " + std::to_string(waiting_) + ")";
        all_of("findings", order);
        all_of("adjustments", order);
        all_of("instruments", "TRUE");
        all_of("calibrations", "TRUE");
        all_of("number_series", "TRUE");
        all_of("number_gaps", "TRUE");
        all_of("people", "name = 'A. Signatory'");
        while (!next.empty()) {
            const auto [table, id] = next.back();
            next.pop_back();
            if (!out.emplace(table, id).second) continue;
            for (const Row& row : raw->rows("PRAGMA foreign_key_list(" + table + ")", "iitt"))
                if (const auto to =
                        raw->row("SELECT " + row.text(3) + " FROM " + table + " WHERE id = :p1", "i", {id});
                    to && !to->null(0))
                    next.emplace_back(row.text(2), to->integer(0));
        }
        return out;
    }

    // The register as it was, but for this; false where that changes nothing, or the database does not have
    // it.
    bool edited(const std::string& statement) {
        put_back();
        try {
            const auto raw = opened();
            raw->run(statement);
            if (raw->row("SELECT changes()", "i")->integer(0) == 0) return false;
            guarded_again(*raw);
        } catch (const Stop&) {
            return false;
        }
        return true;
    }

    void issue_after(const seal::SigningKey& key, const std::string& table, const std::string& statement) {
        if (!edited(statement)) return;
        ++issues;
        auto reg = Register::open(place_.location, last_work);
        if (!reg) return;
        // Of instruments the record itself says which were used; one that was renamed is not found, and the
        // certificate rests on one entered anew. The edited row is told as before.
        const bool found_by_name = table == "instruments" || table == "calibrations";
        if (reg->issue(who("A. Signatory", last_work), waiting_, "B1", key, plain_documents) &&
            !(found_by_name && told(false)))
            missed(unnoticed_issues, "issued after " + statement);
    }

    void attempt(long& count, long& unnoticed, const std::string& statement) {
        if (!edited(statement)) return;
        ++count;
        if (!told(false)) missed(unnoticed, statement);
    }

    bool forged(const TableShape& shape, std::int64_t row, const std::string& statement, Seals seals) {
        put_back();
        try {
            const auto raw = opened();
            const Id id =
                raw->row("SELECT id FROM " + shape.name + " WHERE " + name_of(shape, row), "i")->integer(0);
            raw->run(statement);
            if (raw->row("SELECT changes()", "i")->integer(0) == 0) return false;
            write_log_anew(*raw, shape, id);
            if (seals == Seals::taken) raw->run("DELETE FROM log_seals");
            if (seals == Seals::moved)
                raw->run(
                    "UPDATE log_seals SET hash = (SELECT a.hash FROM audit a WHERE a.seq = log_seals.seq)");
            guarded_again(*raw);
        } catch (const Stop&) {
            return false;
        }
        return true;
    }

    void forge(const TableShape& shape, std::int64_t row, const std::string& statement, Seals seals) {
        if (!forged(shape, row, statement, seals)) return;
        ++chains;
        if (!told(false)) missed(unnoticed_chains, "chain anew after " + statement);
        seal_over([&] { forged(shape, row, statement, seals); }, "chain anew after " + statement);
    }

    // The laboratory's own seal comes next, by each of the ways there are, and the note beside the keys with
    // it: it is refused, or what is wrong is told by the public keys alone from then on.
    template <class Change>
    void seal_over(Change change, const std::string& what) {
        const std::string note = need(read_file(place_.numbers));
        for (const bool issuing : {false, true}) {
            change();
            auto reg = Register::open(place_.location, last_work);
            if (!reg) continue;
            IssueOptions how;
            how.issued_numbers = place_.numbers;
            const Actor signatory = who("A. Signatory", last_work);
            const bool sealed = issuing
                                    ? reg->issue(signatory, waiting_, "B1", *key_, plain_documents, how).ok()
                                    : reg->seal_log(signatory, *key_, place_.numbers).ok();
            ++sealings;
            const auto after = reg->inspect(&*keys_);
            if (sealed && after && after->faults.empty() && after->accepted.empty())
                missed(unnoticed_sealings, std::string(issuing ? "issued" : "sealed") + " over: " + what);
            need_done(write_file(place_.numbers, note, 0600));
        }
    }

    static void write_log_anew(Database& raw, const TableShape& shape, Id id) {
        std::vector<AuditEntry> log = rows_where<AuditEntry>(raw, "ORDER BY t.seq");
        for (auto entry = log.rbegin(); entry != log.rend(); ++entry)
            if (entry->subject == shape.subject && entry->subject_id == id) {
                entry->state = row_state(raw, shape, id);
                break;
            }
        std::string before;
        for (AuditEntry& entry : log) {
            before = entry.hash = audit_hash(before, entry);
            raw.run("UPDATE audit SET state = :p1, hash = :p2 WHERE seq = :p3",
                    {entry.state, entry.hash, entry.seq});
        }
        raw.run("UPDATE audit_head SET hash = :p1", {before});
    }

    std::vector<std::int64_t> rows_of(const TableShape& shape) {
        put_back();
        const std::int64_t all =
            Database::open_sqlite(file(), false)->row("SELECT count(*) FROM " + shape.name, "i")->integer(0);
        if (all == 0) {
            std::fprintf(stderr, "register_tampering_figures: nothing in %s to change\n", shape.name.c_str());
            std::exit(1);
        }
        std::vector<std::int64_t> out;
        for (std::int64_t i = 0; i < all && out.size() < rows_each_; ++i) out.push_back(i);
        return out;
    }

    static std::string name_of(const TableShape& shape, std::int64_t row) {
        std::string key;
        for (const std::string& column : shape.key) key += (key.empty() ? "" : ", ") + column;
        return "(" + key + ") = (SELECT " + key + " FROM " + shape.name + " ORDER BY " + key +
               " LIMIT 1 OFFSET " + std::to_string(row) + ")";
    }

    static std::vector<std::string> values_of(char type, const std::string& column) {
        if (type == 'i') return {"coalesce(" + column + ", 0) + 1", "1 - " + column, "NULL"};
        if (type == 'r') return {"coalesce(" + column + ", 0) + 0.001", "NULL"};
        return {"coalesce(" + column + ", '') || 'x'", "''", "NULL", "'pass'", "'2031-01-01'"};
    }

    Place place_;
    Id waiting_;
    std::size_t rows_each_;
    std::optional<seal::PublicKeys> keys_;
    std::optional<seal::SigningKey> key_;
    std::string pristine_;
    std::vector<std::pair<std::string, std::string>> triggers_;
};

}  // namespace

int main(int argc, char** argv) {
    const long given = argc > 1 ? std::strtol(argv[1], nullptr, 10) : 0;
    const test::ScratchFolder folder;
    const Place place{folder / "register", folder / "keys", folder / "keys/issued-numbers.txt"};
    const Id waiting = fill(place);
    Campaign campaign(place, waiting, given > 0 ? static_cast<std::size_t>(given) : 1000000);
    if (!campaign.whole()) {
        std::fprintf(stderr, "register_tampering_figures: the untouched register is not as it should be\n");
        return 1;
    }
    campaign.edit_every_column();
    campaign.delete_and_insert();
    campaign.compute_chains_again();
    campaign.loosen_schema();
    campaign.issue_on_what_was_edited();
    bool ok =
        test::figure("register_tampering_edits", static_cast<double>(campaign.edits), "edits", ">=", 134);
    ok &= test::figure("register_tampering_edits_unnoticed", static_cast<double>(campaign.unnoticed_edits),
                       "edits", "<=", 0);
    ok &= test::figure("register_tampering_rows", static_cast<double>(campaign.rows), "rows", ">=", 30);
    ok &= test::figure("register_tampering_rows_unnoticed", static_cast<double>(campaign.unnoticed_rows),
                       "rows", "<=", 0);
    ok &=
        test::figure("register_tampering_chains", static_cast<double>(campaign.chains), "chains", ">=", 100);
    ok &= test::figure("register_tampering_chains_unnoticed", static_cast<double>(campaign.unnoticed_chains),
                       "chains", "<=", 0);
    ok &= test::figure("register_tampering_sealings", static_cast<double>(campaign.sealings), "sealings",
                       ">=", 200);
    ok &= test::figure("register_tampering_sealings_unnoticed",
                       static_cast<double>(campaign.unnoticed_sealings), "sealings", "<=", 0);
    ok &= test::figure("register_tampering_schema", static_cast<double>(campaign.loosened), "changes",
                       ">=", 400);
    ok &= test::figure("register_tampering_schema_unnoticed",
                       static_cast<double>(campaign.unnoticed_loosened), "changes", "<=", 0);
    ok &=
        test::figure("register_tampering_issues", static_cast<double>(campaign.issues), "issues", ">=", 200);
    ok &= test::figure("register_tampering_issues_unnoticed", static_cast<double>(campaign.unnoticed_issues),
                       "issues", "<=", 0);
    return ok ? 0 : 1;
}
