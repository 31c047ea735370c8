// What seals of the log and the note of numbers given prove, and when: by a key in its time alone.
#include <filesystem>

#include "report/files/files.hpp"
#include "report/seal/encoding.hpp"
#include "tests/report/behind_its_back.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

seal::Passphrase next() {
    return seal::Passphrase("another passphrase");
}

void rotate(const std::string& keys, const std::string& day) {
    got(seal::rotate_keys(keys, seal::Passphrase("a passphrase"), next(), day, {1, 8192}));
}

}  // namespace

TEMPLATE_TEST_CASE("register: a seal of the log by a key past its end proves nothing", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-1");
    const seal::SigningKey old_key = lab.key();
    rotate(lab.keys, "2026-06-01");
    const auto told = [&](const std::string& what) {
        const seal::PublicKeys known = lab.public_keys();
        return told_of(got(lab.reg.inspect(&known)), what);
    };
    lab.inspected();  // what it sealed in its time stays good
    got(lab.reg.put_customer(at(technician, "2026-07-01T09:00:00Z"), {0, "X", "", "", {}}));
    done(lab.reg.seal_log(at(signatory, "2026-07-01T09:00:00Z"), old_key, ""));
    SECTION("told, and what it covers is not called sealed") {
        CHECK(told("was not in use"));
        const seal::PublicKeys known = lab.public_keys();
        const InspectionReport report = got(lab.reg.inspect(&known));
        CHECK(report.sealed_entries < report.audit_entries);
    }
    SECTION("covered by a later one that counts") {
        const seal::SigningKey key = got(seal::unlock_key(lab.keys, next()));
        done(lab.reg.seal_log(at(signatory, "2026-07-02T09:00:00Z"), key, ""));
        const InspectionReport report = lab.inspected();
        CHECK(report.sealed_entries == report.audit_entries);
    }
    SECTION("revoked, also for what it sealed before it retired") {
        const seal::SigningKey key = got(seal::unlock_key(lab.keys, next()));
        done(lab.reg.seal_log(at(signatory, "2026-07-02T09:00:00Z"), key, ""));
        lab.inspected();
        done(lab.reg.seal_log(at(signatory, "2026-07-03T09:00:00Z"), old_key, ""));
        done(
            seal::revoke_key(lab.keys, old_key.public_key().id, next(), "2026-05-01", "a laptop was stolen"));
        CHECK(told("which is revoked from 2026-05-01"));
    }
}

TEMPLATE_TEST_CASE("register: a seal of the log bears no earlier date than what it covers", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    done(lab.reg.seal_log(signatory, lab.key(), ""));
    lab.inspected();
    // As whoever kept a key that is revoked now would write it: sealed anew, and dated back.
    const std::unique_ptr<Database> raw = lab.raw();
    AuditHead head = read_audit_head(*raw);
    seal_head(*raw, head, "2026-01-02T00:00:00Z", lab.key());
    const seal::PublicKeys known = lab.public_keys();
    CHECK(told_of(got(lab.reg.inspect(&known)), "its seal bears an earlier date than the entry"));
}

TEST_CASE("register: a note of numbers given counts in the time of its key alone") {
    Laboratory<OnSqlite> lab;
    const std::string note = lab.numbers();
    done(lab.reg.seal_log(signatory, lab.key(), note));
    const seal::SigningKey old_key = lab.key();
    const std::string before = *read_file(note, 1 << 20);
    CHECK(before.find("\nat 2026-03-05\n") != std::string::npos);
    rotate(lab.keys, "2026-06-01");
    const seal::SigningKey key = got(seal::unlock_key(lab.keys, next()));
    SECTION("signed before the rotation it stays good") {
        done(lab.reg.seal_log(at(signatory, "2026-06-02T09:00:00Z"), key, note));
    }
    SECTION("signed by the old key after it") {
        done(lab.reg.seal_log(at(signatory, "2026-06-02T09:00:00Z"), old_key, note));
        CHECK(refused(lab.reg.seal_log(at(signatory, "2026-06-03T09:00:00Z"), key, note)) ==
              FaultCode::inconsistent);
    }
    SECTION("revoked") {
        done(
            seal::revoke_key(lab.keys, old_key.public_key().id, next(), "2026-03-01", "a laptop was stolen"));
        CHECK(refused(lab.reg.seal_log(at(signatory, "2026-06-03T09:00:00Z"), key, note)) ==
              FaultCode::inconsistent);
    }
    SECTION("as 1.0 left it, without a day") {
        std::string text = before.substr(0, before.find("\nat ") + 1);
        text += "key " + old_key.public_key().id + "\n";
        const seal::SignatureBytes signature = old_key.sign(text);
        text += "signature " + seal::to_base64(std::string(signature.begin(), signature.end())) + "\n";
        done(write_file(note, text));
        SECTION("its key retired") {
            done(lab.reg.seal_log(at(signatory, "2026-06-03T09:00:00Z"), key, note));
        }
        SECTION("its key was revoked before it retired") {
            done(seal::revoke_key(lab.keys, old_key.public_key().id, next(), "2026-03-01", "stolen"));
            CHECK(refused(lab.reg.seal_log(at(signatory, "2026-06-03T09:00:00Z"), key, note)) ==
                  FaultCode::inconsistent);
        }
    }
    SECTION("its day was changed") {
        std::string text = before;
        text.replace(text.find("at 2026-03-05"), 13, "at 2026-03-04");
        done(write_file(note, text));
        CHECK(refused(lab.reg.seal_log(at(signatory, "2026-06-03T09:00:00Z"), key, note)) ==
              FaultCode::damaged);
    }
}

TEST_CASE("register: a note of numbers given is signed with the new key when the keys change") {
    Laboratory<OnSqlite> lab;
    const std::string note = lab.numbers();
    done(lab.reg.seal_log(signatory, lab.key(), note));
    {
        const NumbersBesideKeys numbers = got(NumbersBesideKeys::read(note));
        rotate(lab.keys, "2026-06-01");
        done(numbers.sign(got(seal::unlock_key(lab.keys, next())), "2026-06-01"));
    }
    const seal::SigningKey key = got(seal::unlock_key(lab.keys, next()));
    CHECK(read_file(note, 1 << 20)->find("\nkey " + key.public_key().id + "\n") != std::string::npos);
    // What it says stays: it is missed when the log is cut.
    CHECK(read_file(note, 1 << 20)->find("\nlog ") != std::string::npos);
    done(seal::revoke_key(lab.keys, got(seal::PublicKeys::read(lab.keys + "/public-keys.txt")).all()[0].id,
                          next(), "2026-01-01", "a laptop was stolen"));
    done(lab.reg.seal_log(at(signatory, "2026-06-02T09:00:00Z"), key, note));
    // What is there is never begun anew.
    const std::string kept = *read_file(note, 1 << 20);
    done(begin_numbers(note, key, "2026-06-03"));
    CHECK(*read_file(note, 1 << 20) == kept);
}

TEMPLATE_TEST_CASE("register: before its first seal too an older register gives no number twice", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    IssueOptions how;
    how.issued_numbers = lab.numbers();
    const seal::PublicKeys known = lab.public_keys();
    const Id id = lab.checked(lab.entered(record_of("EX-1")));
    done(lab.reg.backup(lab.folder / "backup", "2026-03-05T09:30:00Z"));
    CHECK(got(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents, how)).number == "B1-2026-00001");
    const std::string later = *read_file(how.issued_numbers, 1 << 20);

    const ScratchFolder elsewhere;
    const std::string target = TestType::location(elsewhere);
    done(Register::restore(lab.folder / "backup", target, "2026-03-05T10:00:00Z"));
    Register restored = got(Register::open(target, "2026-03-05T10:00:00Z"));
    for (const char* end : {"", ".lock"}) std::filesystem::remove(how.issued_numbers + end);
    CHECK(refused(restored.issue(signatory, id, "B1", lab.key(), plain_documents, how)) ==
          FaultCode::file_missing);
    CHECK_FALSE(got(restored.inspect(&known, how.issued_numbers)).faults.empty());

    // An older note beside the register of today.
    done(write_file(how.issued_numbers, later));
    const Id second = lab.checked(lab.entered(record_of("EX-2")));
    got(lab.reg.issue(signatory, second, "B1", lab.key(), plain_documents, how));
    CHECK(got(lab.reg.inspect(&known, how.issued_numbers)).faults.empty());
    done(write_file(how.issued_numbers, later));
    CHECK(told_of(got(lab.reg.inspect(&known, how.issued_numbers)), "an older note came back"));
}
