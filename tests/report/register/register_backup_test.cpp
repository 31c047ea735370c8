#include <atomic>
#include <fstream>
#include <set>
#include <thread>

#include "calib/base/format_version.hpp"
#include "report/files/files.hpp"
#include "report/register/life_words.hpp"
#include "report/register/maintenance.hpp"
#include "report/register/migrations.hpp"
#include "report/seal/file_lock.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

// What a register answers, for comparing two of them.
std::string answers(Register& reg) {
    std::string out = as_csv(life_table(got(reg.life("EX-1")))) + as_csv(got(reg.due({}))) +
                      as_csv(got(reg.in_tolerance())) + as_csv(got(reg.audit_log(1000))) +
                      as_csv(got(reg.open_work()));
    for (const char* number : {"B1-2026-00001", "B1-2026-00002"}) {
        const Certificate certificate = got(reg.certificate(number));
        out += certificate.seal->signature + got(reg.document(certificate.pdf_sha256));
    }
    return out;
}

template <class Place>
void fill(Laboratory<Place>& lab) {
    Customer customer{0, "Imaginary Weather Network", "7 Sample Street; \"Elsewhere\"\nÄ", "",
                      AgreedInterval{24, "order 1"}};
    got(lab.reg.put_customer(technician, customer));
    lab.certified("EX-1");
    lab.certified("EX-2");
    lab.checked(lab.entered(record_of("EX-3")));
}

}  // namespace

TEMPLATE_TEST_CASE("register: a backup restores to the same register, in either database", "",
                   (std::pair<OnSqlite, OnSqlite>), (std::pair<OnSqlite, OnPostgresql>),
                   (std::pair<OnPostgresql, OnSqlite>), (std::pair<OnPostgresql, OnPostgresql>)) {
    using From = typename TestType::first_type;
    using To = typename TestType::second_type;
    Laboratory<From> lab;
    fill(lab);
    const std::string backup = lab.folder / "backup";
    done(lab.reg.backup(backup, "2026-03-06T00:00:00Z"));
    CHECK(refused(lab.reg.backup(backup, "2026-03-06T00:00:00Z")) == FaultCode::duplicate);
    if (!From::postgresql)
        CHECK(refused(lab.reg.backup(lab.location, "2026-03-06T00:00:01Z")) == FaultCode::not_permitted);
    const std::string before = answers(lab.reg);

    const ScratchFolder elsewhere;
    const std::string target = To::location(elsewhere);
    done(Register::restore(backup, target, "2026-03-07T00:00:00Z"));
    CHECK(refused(Register::restore(backup, target, "2026-03-07T00:00:00Z")) == FaultCode::duplicate);
    {
        Register restored = got(Register::open(target, "2026-03-07T00:00:00Z"));
        CHECK(answers(restored) == before);
        const seal::PublicKeys known = lab.public_keys();
        CHECK(got(restored.inspect(&known)).faults.empty());
        // And it goes on from there: ids, numbers, guards, log.
        const Id record =
            got(restored.enter_record(at(technician, "2026-03-07T09:00:00Z"), record_of("EX-4"), "B1"));
        Draft draft;
        draft.as_found = record;
        const Id id = got(restored.draft(at(technician, "2026-03-07T09:00:00Z"), draft));
        done(restored.mark_checked(at(checker, "2026-03-07T09:00:00Z"), id));
        CHECK(got(restored.issue(at(signatory, "2026-03-07T09:00:00Z"), id, "B1", lab.key(), plain_documents))
                  .number == "B1-2026-00003");
        CHECK(got(restored.inspect(&known)).faults.empty());
    }
    CHECK_THROWS_AS(To::raw(target)->run("DELETE FROM certificates WHERE state = 'issued'"), Stop);

    // A second backup into the same folder adds what is new; the newest is the one restored.
    lab.certified("EX-9", "2026-03-08");
    done(lab.reg.backup(backup, "2026-03-09T00:00:00Z"));
    const std::string second = (elsewhere / "second");
    done(Register::restore(backup, second, "2026-03-09T00:00:00Z"));
    CHECK(got(Register::open(second, "2026-03-09T00:00:00Z")).certificate("B1-2026-00003"));
    done(Register::restore(backup + "/2026-03-06T000000Z", elsewhere / "older", "2026-03-09T00:00:00Z"));
    CHECK_FALSE(
        got(Register::open(elsewhere / "older", "2026-03-09T00:00:00Z")).certificate("B1-2026-00003"));
}

TEMPLATE_TEST_CASE("register: a backup made while others write is one whole state", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    fill(lab);
    std::atomic<bool> stop{false};
    std::string fault;
    std::atomic<int> issued{0};
    std::atomic<bool> ended{false};
    std::atomic<bool> go{false};
    std::thread writer([&] {
        Result<Register> reg = Register::open(lab.location, "2026-03-05T09:00:00Z");
        Result<seal::SigningKey> key = seal::unlock_key(lab.keys, seal::Passphrase("a passphrase"));
        for (int i = 0; !stop && fault.empty() && i < 2000; ++i) {
            while (!go && !stop) std::this_thread::yield();
            Draft draft;
            const Result<Id> record =
                reg->enter_record(technician, record_of("W-" + std::to_string(i)), "B1");
            if (record) draft.as_found = *record;
            const Result<Id> id = reg->draft(technician, draft);
            if (id && reg->mark_checked(checker, *id)) {
                if (const auto done = reg->issue(signatory, *id, "B1", *key, plain_documents); !done)
                    fault = done.fault().line();
                ++issued;
            } else {
                fault = record ? (id ? "not checked" : id.fault().line()) : record.fault().line();
            }
        }
        ended = true;
    });
    const ScratchFolder elsewhere;
    for (int i = 0; i < 2; ++i) {
        const int before = issued;
        go = true;
        while (issued == before && !ended) std::this_thread::yield();
        done(lab.reg.backup(lab.folder / "backup", "2026-03-06T00:00:0" + std::to_string(i) + "Z"));
        go = false;
        const std::string target = elsewhere / ("copy" + std::to_string(i));
        done(Register::restore(lab.folder / "backup", target, "2026-03-07T00:00:00Z"));
        Register restored = got(Register::open(target, "2026-03-07T00:00:00Z"));
        const seal::PublicKeys known = lab.public_keys();
        const InspectionReport report = got(restored.inspect(&known));
        CHECK(report.faults.empty());
        CHECK(report.certificates >= 2 + before);
    }
    stop = true;
    writer.join();
    CHECK(fault.empty());
    lab.inspected();
}

TEST_CASE("register: any changed byte of a backup is told before anything is restored") {
    Laboratory<OnSqlite> lab;
    lab.certified("EX-1");
    const std::string backup = lab.folder / "backup";
    done(lab.reg.backup(backup, "2026-03-06T00:00:00Z"));
    const std::string made = backup + "/2026-03-06T000000Z";
    std::size_t bytes = 0;
    std::size_t told = 0;
    const auto try_file = [&](const std::string& path, std::size_t step) {
        const std::string good = *read_file(path, 1 << 24);
        for (std::size_t i = 0; i < good.size(); i += step) {
            std::string bad = good;
            bad[i] = static_cast<char>(bad[i] ^ 1);
            std::ofstream(path, std::ios::binary | std::ios::trunc) << bad;
            const std::string target = lab.folder / "target";
            ++bytes;
            const Outcome restored = Register::restore(backup, target, "2026-03-07T00:00:00Z");
            if (!restored && restored.fault().line().find('\n') == std::string::npos) ++told;
            CHECK_FALSE(std::filesystem::exists(target));  // nothing was restored by halves
        }
        std::ofstream(path, std::ios::binary | std::ios::trunc) << good;
    };
    try_file(made + "/backup.txt", 97);
    try_file(made + "/tables/certificates.jsonl", 61);
    try_file(made + "/tables/audit.jsonl", 499);
    for (const auto& entry : std::filesystem::recursive_directory_iterator(backup + "/documents"))
        if (entry.is_regular_file())
            try_file(entry.path().string(), std::max<std::size_t>(entry.file_size() / 3, 1));
    CHECK(told == bytes);
    CHECK(bytes > 50);
    // What was in the folder before stays.
    const std::string shared = lab.folder / "shared";
    std::filesystem::create_directories(shared);
    std::ofstream(shared + "/letter.txt") << "mine";
    std::ofstream(made + "/tables/gauges.jsonl", std::ios::app) << "x";
    CHECK_FALSE(Register::restore(backup, shared, "2026-03-07T00:00:00Z"));
    CHECK(*read_file(shared + "/letter.txt", 10) == "mine");
    CHECK(std::distance(std::filesystem::directory_iterator(shared), {}) == 1);
    std::filesystem::remove(made + "/tables/gauges.jsonl");
    CHECK(refused(Register::restore(backup, lab.folder / "target", "2026-03-07T00:00:00Z")) ==
          FaultCode::file_missing);
    CHECK(refused(Register::restore(lab.folder / "nothing", lab.folder / "t2", "2026-03-07T00:00:00Z")) ==
          FaultCode::file_missing);
}

TEST_CASE("register: of a backup that failed or was interrupted nothing stays, of one being made all does") {
    Laboratory<OnSqlite> lab;
    lab.certified("EX-1");
    const std::string backup = lab.folder / "backup";
    done(lab.reg.backup(backup, "2026-03-06T00:00:00Z"));
    const auto leave = [&](const std::string& name) {
        std::filesystem::create_directories(backup + "/" + name + "/tables");
        std::ofstream(backup + "/" + name + "/tables/gauges.jsonl") << "[1]\n";
    };
    const auto there = [&](const std::string& name) { return std::filesystem::exists(backup + "/" + name); };
    // Cut off before locks were taken, and after.
    leave("2026-03-06T010000Z.new");
    leave("2026-03-06T020000Z.new");
    std::ofstream(backup + "/2026-03-06T020000Z.new.lock").flush();
    // Being made by another program.
    leave("2026-03-06T030000Z.new");
    const auto held = got(seal::FileLock::wait_for(backup + "/2026-03-06T030000Z.new.lock"));
    // No backups at all.
    leave("sketches.new");
    done(lab.reg.backup(backup, "2026-03-06T04:00:00Z"));
    CHECK_FALSE(there("2026-03-06T010000Z.new"));
    CHECK_FALSE(there("2026-03-06T020000Z.new"));
    CHECK_FALSE(there("2026-03-06T020000Z.new.lock"));
    CHECK(there("2026-03-06T030000Z.new/tables/gauges.jsonl"));
    CHECK(there("2026-03-06T030000Z.new.lock"));
    CHECK(there("sketches.new/tables/gauges.jsonl"));
    CHECK(there("2026-03-06T000000Z/backup.txt"));
    CHECK(there("2026-03-06T040000Z/backup.txt"));
    CHECK_FALSE(there("2026-03-06T040000Z.new.lock"));

    // A document is lost: the backup cannot be whole.
    lab.certified("EX-2");
    std::string lost = got(lab.reg.certificate("B1-2026-00002")).pdf_sha256;
    lost = lab.location + "/documents/" + lost.substr(0, 2) + "/" + lost;
    REQUIRE(std::filesystem::remove(lost));
    CHECK(refused(lab.reg.backup(backup, "2026-03-06T05:00:00Z")) == FaultCode::file_missing);
    CHECK_FALSE(there("2026-03-06T050000Z"));
    CHECK_FALSE(there("2026-03-06T050000Z.new"));
    CHECK_FALSE(there("2026-03-06T050000Z.new.lock"));
}

TEST_CASE("register: a backup is found beside what cannot be looked into, and its own fault is told") {
    Laboratory<OnSqlite> lab;
    lab.certified("EX-1");
    const std::string backup = lab.folder / "backup";
    done(lab.reg.backup(backup, "2026-03-06T00:00:00Z"));
    const std::string made = backup + "/2026-03-06T000000Z";
    int targets = 0;
    const auto restored = [&] {
        return Register::restore(backup, lab.folder / ("target" + std::to_string(++targets)),
                                 "2026-03-07T00:00:00Z");
    };
    // As lost+found on a medium, also for whoever may look into everything.
    std::filesystem::create_symlink("lost+found", backup + "/lost+found");
    done(restored());
    // The newest may be the one that is meant: no older one is taken for it.
    std::filesystem::create_symlink("2026-03-06T120000Z", backup + "/2026-03-06T120000Z");
    const Outcome unknown = restored();
    CHECK(refused(unknown) == FaultCode::file_unreadable);
    CHECK(unknown.fault().where == backup + "/2026-03-06T120000Z/backup.txt");
    std::filesystem::remove(backup + "/2026-03-06T120000Z");
    CHECK(refused(Register::restore(backup + "/lost+found", lab.folder / "t2", "2026-03-07T00:00:00Z")) ==
          FaultCode::file_unreadable);

    // A file of it that is there and cannot be read is not said to be lacking.
    std::filesystem::remove(made + "/tables/gauges.jsonl");
    const Outcome lacking = restored();
    CHECK(refused(lacking) == FaultCode::file_missing);
    CHECK(lacking.fault().where == made + "/tables/gauges.jsonl");
    std::filesystem::create_symlink("gauges.jsonl", made + "/tables/gauges.jsonl");
    const Outcome unreadable = restored();
    CHECK(refused(unreadable) == FaultCode::file_unreadable);
    CHECK(unreadable.fault().what.find("symbolic links") != std::string::npos);
}

TEST_CASE("register: the first line of a backup names a program that knows its schema") {
    Laboratory<OnSqlite> lab;
    const std::string backup = lab.folder / "backup";
    done(lab.reg.backup(backup, "2026-03-06T09:00:00Z"));
    const std::string list = *read_file(backup + "/2026-03-06T090000Z/backup.txt");
    const auto said = format_version(list.substr(26, list.find('\n') - 26));
    REQUIRE(list.starts_with("tipwright register backup "));
    REQUIRE(said);
    for (const Migration& migration : migrations()) {
        const auto needs = format_version(migration.needs);
        REQUIRE(needs);
        CHECK(*needs <= *said);
    }
}

TEMPLATE_TEST_CASE("register: the backup knows every table and column of the schema", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const std::unique_ptr<Database> raw = lab.raw();
    std::size_t tables = 0;
    for (const TableShape* shape : all_shapes()) {
        const TableShape& table = *shape;
        INFO(table.name);
        std::vector<std::string> columns;
        const std::string sql =
            TestType::postgresql
                ? "SELECT column_name::text FROM information_schema.columns WHERE table_name = '" +
                      table.name + "' ORDER BY ordinal_position"
                : "SELECT name FROM pragma_table_info('" + table.name + "') ORDER BY cid";
        raw->each(sql, "t", {}, [&](const Row& row) { columns.push_back(row.text(0)); });
        std::vector<std::string> known = table.columns;
        if (TestType::postgresql)  // which folds names to lower case
            for (std::string& name : known)
                for (char& c : name)
                    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
        CHECK(columns == known);
        CHECK(table.types.size() == known.size());
        ++tables;
    }
    const std::string all =
        TestType::postgresql ? "SELECT count(*) FROM information_schema.tables WHERE table_schema = 'public'"
                             : "SELECT count(*) FROM sqlite_master WHERE type = 'table'";
    // Besides: schema_versions, and PostgreSQL's documents.
    CHECK(raw->row(all, "i")->integer(0) ==
          static_cast<std::int64_t>(tables) + (TestType::postgresql ? 2 : 1));
}

TEST_CASE("register: documents are named whatever rows they stand in, of however many") {
    const auto database = Database::in_memory();
    database->run("CREATE TABLE records (id INTEGER PRIMARY KEY, sha256 TEXT)");
    database->run(
        "CREATE TABLE certificates (id INTEGER PRIMARY KEY, as_left_sha256 TEXT, as_found_sha256 TEXT, "
        "pdf_sha256 TEXT, xml_sha256 TEXT)");
    database->run("CREATE TABLE certificate_documents (certificate_id INTEGER, name TEXT, sha256 TEXT)");
    constexpr int rows = 12001;  // more than two pages, and not a whole number of them
    const std::string counted = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < " +
                                std::to_string(rows) + ") ";
    // As ids are after years: with gaps.
    database->run(counted + "INSERT INTO records SELECT 3 * i, 'record ' || i FROM n");
    database->run(
        counted +
        "INSERT INTO certificates SELECT 2 * i, 'left ' || i, NULL, 'pdf ' || i, 'xml ' || i FROM n");
    database->run("INSERT INTO certificate_documents VALUES (2, 'correction.csv', 'a table')");
    std::set<std::string> names;
    each_named_document(*database, [&](const std::string& name) { names.insert(name); });
    CHECK(names.size() == 4 * rows + 1);
    CHECK(names.count("record " + std::to_string(rows)) == 1);
    CHECK(names.count("xml " + std::to_string(rows)) == 1);
    CHECK(names.count("a table") == 1);
}
