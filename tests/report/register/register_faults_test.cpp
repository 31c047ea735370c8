// What can go wrong outside the program: one clear line each, nothing half-written, nothing lost.
#include <fcntl.h>
#include <unistd.h>

#include <fstream>

#include "report/files/files.hpp"
#include "report/register/migrations.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

void overwrite(const std::string& path, std::size_t at, const std::string& bytes) {
    const int file = ::open(path.c_str(), O_WRONLY);
    REQUIRE(file >= 0);
    REQUIRE(::pwrite(file, bytes.data(), bytes.size(), static_cast<off_t>(at)) ==
            static_cast<ssize_t>(bytes.size()));
    ::close(file);
}

// Changes the database behind the register's back, guards and all.
template <class Place>
void past_the_guards(const Laboratory<Place>& lab, const std::string& table, const std::string& statement) {
    const std::unique_ptr<Database> raw = lab.raw();
    if (Place::postgresql) {
        raw->run("ALTER TABLE " + table + " DISABLE TRIGGER ALL");
        raw->run(statement);
        raw->run("ALTER TABLE " + table + " ENABLE TRIGGER ALL");
        return;
    }
    for (const Row& row :
         raw->rows("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = :p1", "t", {table}))
        raw->run("DROP TRIGGER " + row.text(0));
    raw->run("PRAGMA ignore_check_constraints=ON");
    raw->run(statement);
}

}  // namespace

TEMPLATE_TEST_CASE("register: a clock set back is told, a clock put right is accepted", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const Id id = lab.checked(lab.entered(record_of("EX-1")));
    const Actor back = at(signatory, "2026-03-05T08:54:59Z");  // more than five minutes
    const Result<Issued> issued = lab.reg.issue(back, id, "B1", lab.key(), plain_documents);
    CHECK(refused(issued) == FaultCode::inconsistent);
    CHECK(issued.fault().where == "clock");
    CHECK(refused(lab.reg.put_customer(at(technician, "2025-03-05T09:00:00Z"), {0, "X", "", "", {}})) ==
          FaultCode::inconsistent);
    CHECK(refused(lab.reg.put_customer(at(technician, "soon"), {0, "X", "", "", {}})) ==
          FaultCode::bad_value);
    // Benches never agree to the second.
    got(lab.reg.put_customer(at(technician, "2026-03-05T08:55:01Z"), {0, "X", "", "", {}}));

    // A clock that ran ahead is found out and put right.
    got(lab.reg.put_customer(at(technician, "2036-03-05T09:00:00Z"), {0, "Y", "", "", {}}));
    CHECK(refused(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents)) == FaultCode::inconsistent);
    CHECK(refused(lab.reg.accept_clock(technician, "the year was mistyped")) == FaultCode::not_permitted);
    CHECK(refused(lab.reg.accept_clock(signatory, "")) == FaultCode::missing_field);
    done(lab.reg.accept_clock(signatory, "the year was mistyped"));
    CHECK(got(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents)).number == "B1-2026-00001");
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: what acts in it by itself and is none of its guards is told", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-1");
    lab.inspected();
    const std::unique_ptr<Database> raw = lab.raw();
    const auto told = [&](const std::string& what) {
        const InspectionReport report = got(lab.reg.inspect(nullptr));
        return std::any_of(report.faults.begin(), report.faults.end(),
                           [&](const Fault& one) { return one.what.find(what) != std::string::npos; });
    };
    if (TestType::postgresql) {
        raw->run(
            "CREATE FUNCTION other() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN NEW.name := 'else'; RETURN NEW; END $$");
        raw->run("CREATE TRIGGER other BEFORE INSERT ON customers FOR EACH ROW EXECUTE FUNCTION other()");
        CHECK(told("not one of the register's guards: other on customers"));
        raw->run("DROP TRIGGER other ON customers");
        lab.inspected();
        raw->run("CREATE RULE other AS ON INSERT TO customers DO INSTEAD NOTHING");
        CHECK(told("not one of the register's guards: other on customers"));
        raw->run("DROP RULE other ON customers");
        raw->run(
            "CREATE OR REPLACE FUNCTION guard_audit_DELETE() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RETURN OLD; END $$");
        CHECK(told("a guard against changes was taken away: guard_audit_delete on audit"));
    } else {
        raw->run(
            "CREATE TRIGGER other AFTER INSERT ON customers BEGIN "
            "UPDATE customers SET name = 'else' WHERE id = NEW.id; END");
        CHECK(told("not one of the register's guards: CREATE TRIGGER other"));
        raw->run("DROP TRIGGER other");
        lab.inspected();
    }
}

TEMPLATE_TEST_CASE("register: rows, log entries and documents changed behind its back are told", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const std::string number = lab.certified("EX-1");
    lab.certified("EX-2");
    const Certificate certificate = got(lab.reg.certificate(number));
    struct Case {
        const char* table;
        std::string statement;
        const char* says;
    };
    const std::vector<Case> cases{
        {"certificates", "UPDATE certificates SET calibrated_on = '2026-03-01' WHERE sequence = 1",
         "was entered last"},
        {"certificates", "UPDATE certificates SET pdf_sha256 = as_found_sha256 WHERE sequence = 1",
         "was entered last"},
        {"certificates", "UPDATE certificates SET sequence = 5 WHERE sequence = 2", "numbered up to 5"},
        {"gauges", "UPDATE gauges SET catch_diameter_mm = 200.5 WHERE id = 1", "was entered last"},
        {"people", "UPDATE people SET may_issue = 1 WHERE may_issue = 0", "was entered last"},
        {"calibrations", "UPDATE calibrations SET due_on = '2030-01-01' WHERE id = 1", "was entered last"},
        {"records",
         "UPDATE records SET sha256 = (SELECT pdf_sha256 FROM certificates WHERE id = 1) WHERE id = 1",
         "was entered"},
        {"audit", "UPDATE audit SET person = 'N. Nobody' WHERE seq = 5", "audit entry 5"},
        {"audit", "DELETE FROM audit WHERE seq = 6", "missing"},
        {"certificate_documents", "UPDATE certificate_documents SET name = 'x.csv' WHERE certificate_id = 1",
         "was entered last"},
    };
    const Case& chosen = cases[static_cast<std::size_t>(GENERATE(range(0, 10)))];
    INFO(chosen.statement);
    past_the_guards(lab, chosen.table, chosen.statement);
    const InspectionReport report = got(lab.another().inspect(nullptr));
    std::string all;
    for (const Fault& fault : report.faults) all += fault.line() + "\n";
    CHECK(all.find(chosen.says) != std::string::npos);
}

TEMPLATE_TEST_CASE("register: a log whose end was cut off is told on opening", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-1");
    past_the_guards(lab, "audit", "DELETE FROM audit WHERE seq = (SELECT max(seq) FROM audit)");
    CHECK(refused(Register::open(lab.location, "2026-03-05T09:00:00Z")) == FaultCode::damaged);
}

TEST_CASE("register: a damaged SQLite database or document is told, and the rest stays readable") {
    Laboratory<OnSqlite> lab;
    const std::string number = lab.certified("EX-1");
    const Certificate certificate = got(lab.reg.certificate(number));
    const std::string file = lab.location + "/register.sqlite";
    const std::string document =
        lab.location + "/documents/" + certificate.pdf_sha256.substr(0, 2) + "/" + certificate.pdf_sha256;

    SECTION("one changed byte of a document, each in turn") {
        const std::string good = *read_file(document, 1 << 20);
        std::size_t told = 0;
        for (std::size_t i = 0; i < good.size(); ++i) {
            overwrite(document, i, std::string(1, static_cast<char>(good[i] ^ 4)));
            const Result<std::string> read = lab.reg.document(certificate.pdf_sha256);
            if (!read && read.fault().code == FaultCode::damaged) ++told;
            overwrite(document, i, std::string(1, good[i]));
        }
        CHECK(told == good.size());
        CHECK(lab.reg.document(certificate.pdf_sha256));
        overwrite(document, 3, "X");
        const InspectionReport report = got(lab.reg.inspect(nullptr));
        REQUIRE(report.faults.size() == 1);
        CHECK(report.faults[0].line().find(number) != std::string::npos);
        // By these the file is found.
        CHECK(report.faults[0].line().find("(" + certificate.pdf_sha256.substr(0, 16) + "...)") !=
              std::string::npos);
        // The same bytes stored again mend it.
        CHECK(got(lab.reg.certificate(number)).state == CertificateState::issued);
    }
    SECTION("a document that is gone") {
        REQUIRE(::unlink(document.c_str()) == 0);
        CHECK(refused(lab.reg.document(certificate.pdf_sha256)) == FaultCode::file_missing);
        CHECK(got(lab.reg.inspect(nullptr)).faults.size() == 1);
    }
    SECTION("no database at all under its name") {
        { Register closed = std::move(lab.reg); }
        lab.reg = got(Register::open(lab.folder / "elsewhere", "2026-03-05T09:00:00Z", true));
        std::ofstream(file, std::ios::trunc)
            << "this is a shopping list, and a long one at that, but no database: " << std::string(5000, '.');
        ::unlink((file + "-wal").c_str());
        ::unlink((file + "-shm").c_str());
        CHECK(refused(Register::open(lab.location, "2026-03-05T09:00:00Z")) == FaultCode::damaged);
    }
    SECTION("a page overwritten in the middle") {
        { Register closed = std::move(lab.reg); }
        lab.reg = got(Register::open(lab.folder / "elsewhere", "2026-03-05T09:00:00Z", true));
        const std::size_t size = std::filesystem::file_size(file);
        bool told = false;
        for (std::size_t page = 4096; page + 4096 <= size && !told; page += 4096) {
            const std::string good = read_file(file, 1 << 24)->substr(page, 4096);
            overwrite(file, page, std::string(4096, '\xA5'));
            Result<Register> opened = Register::open(lab.location, "2026-03-05T09:00:00Z");
            if (!opened) {
                CHECK(opened.fault().code == FaultCode::damaged);
                told = true;
            } else {
                const Result<InspectionReport> report = opened->inspect(nullptr);
                told = !report ? report.fault().code == FaultCode::damaged : !report->faults.empty();
            }
            CHECK(told);
            { const Result<Register> closed = std::move(opened); }
            overwrite(file, page, good);
            told = false;
        }
        CHECK(got(got(Register::open(lab.location, "2026-03-05T09:00:00Z")).inspect(nullptr)).faults.empty());
    }
    SECTION("a folder that cannot be written") {
        std::ofstream(lab.folder / "file") << "x";
        CHECK(refused(Register::open(lab.folder / "file", "2026-03-05T09:00:00Z", true)) ==
              FaultCode::file_unwritable);
        CHECK(refused(Register::open(lab.folder / "none", "2026-03-05T09:00:00Z")) ==
              FaultCode::file_missing);
        CHECK(refused(Register::open("", "2026-03-05T09:00:00Z", true)) == FaultCode::bad_value);
    }
}

TEST_CASE(
    "register: a server that is not there, or goes away mid-issue, is told and nothing is half-written") {
    const Result<Register> absent = Register::open(
        "host=/nonexistent dbname=x user=y password=topsecret connect_timeout=2", "2026-03-05T09:00:00Z");
    CHECK(refused(absent) == FaultCode::database_unreachable);
    CHECK(absent.fault().line().find("topsecret") == std::string::npos);

    PostgresqlServer server;
    struct OnThisServer : OnPostgresql {};
    ScratchFolder folder;
    const std::string location = server.make_database();
    Register reg = got(Register::open(location, "2026-01-01T00:00:00Z", true));
    const std::string keys = folder / "keys";
    got(seal::make_keys(keys, seal::Passphrase("a passphrase"), "2026-01-01", {1, 8192}));
    const seal::SigningKey key = got(seal::unlock_key(keys, seal::Passphrase("a passphrase")));
    const Actor first{"A. Signatory", "2026-01-01T00:00:00Z"};
    got(reg.put_person(first, {0, "A. Signatory", true, true, true, true}));
    got(reg.put_person(first, {0, "C. Checker", true, true, false, true}));
    Draft draft;
    draft.as_found = got(reg.enter_record(signatory, record_of("EX-1"), "B1"));
    const Id id = got(reg.draft(signatory, draft));
    done(reg.mark_checked(checker, id));

    for (const char* stage : {"numbered", "drawn", "stored", "written"}) {
        INFO("server gone when " << stage);
        IssueOptions options;
        options.on_stage = [&](std::string_view now, std::size_t) {
            if (now == stage) server.stop();
        };
        const Result<Issued> issued = reg.issue(signatory, id, "B1", key, plain_documents, options);
        CHECK(refused(issued) == FaultCode::database_unreachable);
        CHECK(refused(reg.put_customer(signatory, {0, "X", "", "", {}})) == FaultCode::database_unreachable);
        server.start();
        // The same object finds the server again.
        CHECK(got(reg.certificate(id)).state == CertificateState::checked);
    }
    CHECK(got(reg.issue(signatory, id, "B1", key, plain_documents)).number == "B1-2026-00001");
    const seal::PublicKeys known = got(seal::PublicKeys::read(keys + "/public-keys.txt"));
    const InspectionReport report = got(reg.inspect(&known));
    CHECK(report.faults.empty());
    CHECK(report.stray_documents == 0);
}

TEMPLATE_TEST_CASE("register: the schema moves by versions, each whole or not at all", "", OnSqlite,
                   OnPostgresql) {
    const ScratchFolder folder;
    const std::string location = TestType::location(folder);
    const std::string now = "2026-03-05T09:00:00Z";
    { Register reg = got(Register::open(location, now, true)); }
    const std::unique_ptr<Database> raw = TestType::raw(location);
    CHECK(schema_version(*raw) == static_cast<int>(migrations().size()));

    std::vector<Migration> more = migrations();
    Migration next;
    next.version = static_cast<int>(more.size()) + 1;
    next.title = "colours";
    next.needs = "7.3";
    next.tables = {"ALTER TABLE gauges ADD COLUMN colour $text NOT NULL DEFAULT ''",
                   "CREATE TABLE colours (id $id, name $text NOT NULL) $end"};
    more.push_back(next);
    Migration broken = next;
    broken.version = next.version + 1;
    broken.tables = {"CREATE TABLE half (id $id) $end", "CREATE NONSENSE"};
    more.push_back(broken);
    // As the first release made it, before the releases were noted.
    raw->run("ALTER TABLE schema_versions DROP COLUMN needs");
    CHECK_THROWS_AS(migrate(*raw, more), Stop);
    CHECK(schema_version(*raw) == next.version);  // the good one is in, the broken one is not
    CHECK_THROWS_AS(raw->row("SELECT count(*) FROM half", "i"), Stop);
    CHECK(raw->row("SELECT count(*) FROM colours", "i")->integer(0) == 0);
    more.pop_back();
    migrate(*raw, more);  // again: nothing to do

    // This program does not know that version, and says which one does.
    const auto later = Register::open(location, now);
    CHECK(refused(later) == FaultCode::unsupported_version);
    CHECK(later.fault().line().find("it needs tipwright 7.3 or later") != std::string::npos);
    more.back().tables.pop_back();
    try {
        migrate(*raw, more);
        FAIL("a version made by other statements passed");
    } catch (const Stop& told) {
        CHECK(told.fault.code == FaultCode::damaged);
    }
}

TEST_CASE("register: two registers do not share a wrong passphrase") {
    Laboratory<OnSqlite> lab;
    const Id id = lab.checked(lab.entered(record_of("EX-1")));
    const Result<seal::SigningKey> key = seal::unlock_key(lab.keys, seal::Passphrase("not the passphrase"));
    CHECK(refused(key) == FaultCode::wrong_passphrase);
    CHECK(got(lab.reg.certificate(id)).state == CertificateState::checked);
}
