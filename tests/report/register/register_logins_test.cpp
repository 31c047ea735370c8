// Who may check and issue: by passphrase, compared as people read names, and never one's own work; and what
// the register knows of numbers given when an older state of it comes back.
#include <future>

#include "report/files/files.hpp"
#include "report/register/persons.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

constexpr const char* moment = "2026-03-05T09:00:00Z";

seal::Passphrase of(const char* text) {
    return seal::Passphrase(text);
}

}  // namespace

TEST_CASE("register: names are compared as people read them") {
    for (const char* other : {"c. checker", "C.Checker", "C.  CHECKER", "\xEF\xBC\xA3. Checker",
                              "C. Checker\xC2\xA0", "C. \xD0\xA1hecker", "Checker, C.",
                              "C. Ch\xC3\xA9"
                              "cker",
                              "C. Check\xE2\x80\x8B"
                              "er"})
        CHECK(may_be_same_person("C. Checker", other));
    CHECK(may_be_same_person("Carol Checker", "C. Checker"));
    for (const char* other : {"A. Signat0ry", "A. S1gnatory", "A. Signat\xC3\xB8ry"})
        CHECK(may_be_same_person("A. Signatory", other));
    CHECK_FALSE(may_be_same_person("C. Checker", "T. Technician"));
    CHECK(unreadable_name("C. \xD0\xA1hecker"));  // a Cyrillic letter
    CHECK(
        unreadable_name("C. Check\xE2\x80\x8B"
                        "er"));  // zero width
    CHECK_FALSE(unreadable_name("Zo\xC3\xAB \xC5\x81ukasz-O'Neill"));
    CHECK_FALSE(unreadable_name("\xD0\x98\xD0\xB2\xD0\xB0\xD0\xBD"));
}

TEST_CASE("register: a name may be short for another, or spelt for a keyboard that lacks its letters") {
    for (const char* other : {"Dr. Nadine Olivier", "N. Olivier", "Nadine M. Olivier", "Nadine Olivier 2",
                              "Olivier", "Mrs Olivier", "Nadine Olivi\xE2\x84\xAEr",
                              "\xC9\xB4"
                              "adine Olivier",
                              "Olivier-Nadine", "Nadine Olivier (2)"})
        CHECK(may_be_same_person("Nadine Olivier", other));
    CHECK(looks_like("Jan M\xC3\xBCller-Wei\xC3\x9F", "Jan Mueller-Weiss"));
    CHECK(looks_like("Jan M\xC3\xBCller-Wei\xC3\x9F", "Jan Muller-Weiss"));
    CHECK(looks_like("S\xC3\xB8ren \xC3\x85s", "Soeren Aas"));
    CHECK(looks_like("J\xC3\xA4rvi", "JAERVI"));
    CHECK(looks_like("Jan Wei\xC3\x9F", "Jan VVeiss"));
    for (const char* other : {"Nadine Dupont", "Paul Olivier", "Olivia Nadin", "Dr. Paul"})
        CHECK_FALSE(may_be_same_person("Nadine Olivier", other));
    // A letter that no everyday name has stands for any, in Cyrillic as in Latin: here an old one for
    // another.
    CHECK(may_be_same_person("\xD0\x98\xD0\xB2\xD0\xB0\xD0\xBD", "\xD0\x98\xEA\x99\x81\xD0\xB0\xD0\xBD"));
    // Of scripts that nobody could take for these it stands for itself: two words in Ogham.
    CHECK_FALSE(may_be_same_person("\xE1\x9A\x81\xE1\x9A\x82\xE1\x9A\x83\xE1\x9A\x84",
                                   "\xE1\x9A\x85\xE1\x9A\x86\xE1\x9A\x87\xE1\x9A\x88"));
    CHECK_FALSE(may_be_same_person("A. Bauer", "A. Baur"));
    CHECK_FALSE(may_be_same_person("Dr. A. Meier", "Dr. B. Huber"));
    // Names of signs alone take no time, however long.
    CHECK_FALSE(may_be_same_person(std::string(90, '+') + "x" + std::string(90, '+') + "y", "zz"));
}

TEST_CASE("register: a name holds everyday letters, digits, blanks and . , ' - alone") {
    for (const char* name : {"Nadine Olivi\xE2\x84\xAEr",
                             "\xC9\xB4"
                             "adine Olivier",
                             "Nadine Olivier (2)", "N@dine", "A/B", "Nadine_O", "=Nadine",
                             "O\xE2\x80\x99Neill", "\xE2\x85\xBCivier"}) {
        INFO(name);
        const auto fault = unreadable_name(name);
        REQUIRE(fault);
        CHECK(fault->what.find("everyday letters") != std::string::npos);
    }
    for (const char* name :
         {"J. M\xC3\xBCller-Wei\xC3\x9F",
          "Ng\xE1\xBB\x8D"
          "c O'Brien, Jr. 2",
          "\xE6\x9D\x8E \xE6\x98\x8E", "\xCE\x99\xCF\x89\xCE\xAC\xCE\xBD\xCE\xBD\xCE\xB7\xCF\x82",
          "\xD9\x84\xD9\x8A\xD9\x84\xD9\x89"})
        CHECK_FALSE(unreadable_name(name));
}

TEMPLATE_TEST_CASE("register: who drafted it does not check it under another spelling", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const auto drafted = [&](const Actor& actor) {
        static int day = 0;
        Draft draft;
        draft.as_found = got(lab.reg.enter_record(actor, record_of("EX-" + std::to_string(++day)), "B1"));
        return got(lab.reg.draft(actor, draft));
    };
    const Actor nadine{"Nadine Olivier", moment};
    got(lab.reg.put_person(signatory, {0, nadine.person, true, true, true, true}));
    for (const char* spelt : {"Dr. Nadine Olivier", "N. Olivier", "Nadine M. Olivier", "Olivier"}) {
        INFO(spelt);
        got(lab.reg.put_person(signatory, {0, spelt, true, true, true, true}));
        CHECK(refused(lab.reg.mark_checked({spelt, moment}, drafted(nadine))) == FaultCode::not_permitted);
    }
    // Two who are called alike prove that they are two.
    const Id by_name = drafted(nadine);
    done(lab.reg.set_passphrase(signatory, signatory.person, of("horses and staples")));
    const Actor alice = got(lab.reg.log_in(signatory.person, moment, of("horses and staples")));
    const auto with_own = [&](const char* name) {
        const std::string own = std::string("known to me alone, ") + name;
        done(lab.reg.set_passphrase(alice, name, of("given by another")));
        const Actor given = got(lab.reg.log_in(name, moment, of("given by another")));
        done(lab.reg.set_passphrase(given, name, of(own.c_str())));
        return got(lab.reg.log_in(name, moment, of(own.c_str())));
    };
    const Actor drafter = with_own("Nadine Olivier");
    const Actor other = with_own("N. Olivier");
    CHECK(refused(lab.reg.mark_checked(other, by_name)) == FaultCode::not_permitted);
    const Id by_login = drafted(drafter);
    CHECK(refused(lab.reg.mark_checked(drafter, by_login)) == FaultCode::not_permitted);
    done(lab.reg.mark_checked(other, by_login));
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: nobody checks own work, however the name is spelt", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    int day = 0;
    for (const char* spelt : {"C. Checker", "c. checker", "C.Checker", "C.  CHECKER", "\xEF\xBC\xA3. Checker",
                              "C. Checker\xC2\xA0", "C. \xD0\xA1hecker", "Checker, C.", "Carol Checker"}) {
        Record record = record_of("EX-" + std::to_string(++day));
        record.operator_name = spelt;
        Draft draft;
        draft.as_found = got(lab.reg.enter_record(technician, record, "B1"));
        const Id id = got(lab.reg.draft(technician, draft));
        INFO(spelt);
        CHECK(refused(lab.reg.mark_checked(checker, id)) == FaultCode::not_permitted);
    }
    CHECK(refused(lab.reg.put_person(signatory, {0, "c.checker", true, true, true, true})) ==
          FaultCode::duplicate);
    CHECK(refused(lab.reg.put_person(signatory, {0, "C. \xD0\xA1hecker", true, true, true, true})) ==
          FaultCode::bad_value);
}

TEMPLATE_TEST_CASE("register: who has a passphrase logs in, and nobody checks or issues without", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-0");
    CHECK(lab.inspected().checked_by_login == 0);  // by name alone
    const Id before = lab.entered(record_of("EX-1"));
    CHECK(refused(lab.reg.set_passphrase(technician, technician.person, of("horses and staples"))) ==
          FaultCode::not_permitted);
    CHECK(refused(lab.reg.set_passphrase(signatory, checker.person, of("horses and staples"))) ==
          FaultCode::not_permitted);
    CHECK(refused(lab.reg.set_passphrase(signatory, signatory.person, of("short"))) == FaultCode::bad_value);
    done(lab.reg.set_passphrase(signatory, signatory.person, of("horses and staples")));
    CHECK(got(lab.reg.person("a. signatory")).passphrase == PassphraseState::own);
    CHECK(got(lab.reg.person("a. signatory")).login.empty());

    // Named alone is not logged in.
    CHECK(refused(lab.reg.put_customer(signatory, {0, "X", "", "", {}})) == FaultCode::not_permitted);
    CHECK(refused(lab.reg.log_in(signatory.person, moment, of("horses or staples"))) ==
          FaultCode::wrong_passphrase);
    const Actor alice = got(lab.reg.log_in("A.SIGNATORY", moment, of("horses and staples")));
    CHECK(alice.person == signatory.person);
    CHECK(alice.logged_in);

    // Others measure as before; they do not check without a passphrase of their own.
    Draft draft;
    draft.as_found = before;
    const Id id = got(lab.reg.draft(technician, draft));
    CHECK(refused(lab.reg.mark_checked(checker, id)) == FaultCode::not_permitted);
    CHECK(refused(lab.reg.set_passphrase(checker, checker.person, of("my own one, taken"))) ==
          FaultCode::not_permitted);
    done(lab.reg.set_passphrase(alice, checker.person, of("given by another")));
    Actor carol = got(lab.reg.log_in(checker.person, moment, of("given by another")));
    CHECK(refused(lab.reg.mark_checked(carol, id)) == FaultCode::not_permitted);
    done(lab.reg.set_passphrase(carol, checker.person, of("known to me alone")));
    CHECK(refused(lab.reg.log_in(checker.person, moment, of("given by another"))) ==
          FaultCode::wrong_passphrase);
    carol = got(lab.reg.log_in(checker.person, moment, of("known to me alone")));
    done(lab.reg.mark_checked(carol, id));
    got(lab.reg.issue(alice, id, "B1", lab.key(), plain_documents));
    CHECK(lab.inspected().checked_by_login == 1);

    // Changing a person keeps their passphrase.
    Person changed = got(lab.reg.person(checker.person));
    changed.may_issue = true;
    got(lab.reg.put_person(alice, changed));
    got(lab.reg.log_in(checker.person, moment, of("known to me alone")));
}

TEMPLATE_TEST_CASE("register: of wrong passphrases tried at once as many are tried as one after the other",
                   "", OnSqlite, OnPostgresql) {
    constexpr int tries = 16;
    Laboratory<TestType> lab;
    done(lab.reg.set_passphrase(signatory, signatory.person, of("horses and staples")));
    std::vector<Register> connections;
    for (int i = 0; i < tries; ++i) connections.push_back(lab.another());
    std::vector<std::future<FaultCode>> answers;
    for (Register& one : connections)
        answers.push_back(std::async(std::launch::async, [&one] {
            return one.log_in(signatory.person, moment, of("horses or staples")).fault().code;
        }));
    int tried = 0;
    for (auto& answer : answers) {
        const FaultCode code = answer.get();
        if (code == FaultCode::wrong_passphrase)
            ++tried;
        else
            CHECK(code == FaultCode::not_permitted);
    }
    CHECK(tried == wrong_logins_allowed);
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a passphrase that is tried first is none", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    for (const char* weak : {"aaaaaaaa", "        ", "password", "12345678", "short"})
        CHECK(refused(lab.reg.set_passphrase(signatory, signatory.person, of(weak))) == FaultCode::bad_value);
    CHECK(got(lab.reg.person(signatory.person)).passphrase == PassphraseState::none);
}

TEMPLATE_TEST_CASE("register: wrong passphrases are counted, and then none is tried for a while", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    done(lab.reg.set_passphrase(signatory, signatory.person, of("horses and staples")));
    for (int i = 0; i < wrong_logins_allowed; ++i)
        CHECK(refused(lab.reg.log_in(signatory.person, moment, of("horses or staples"))) ==
              FaultCode::wrong_passphrase);
    // Another connection counts too; the right one is not tried either.
    Register other = lab.another();
    CHECK(refused(other.log_in(signatory.person, moment, of("horses and staples"))) ==
          FaultCode::not_permitted);
    // A clock set back tries at the log's own time.
    CHECK(refused(other.log_in(signatory.person, "2026-03-05T07:00:00Z", of("horses and staples"))) ==
          FaultCode::not_permitted);
    got(other.log_in(signatory.person, "2026-03-05T09:10:01Z", of("horses and staples")));
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: two that were begun alike and use the same keys are not taken for each other",
                   "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> one;
    const std::string note = one.numbers();
    done(one.reg.seal_log(signatory, one.key(), note));
    Laboratory<TestType> other;
    const seal::PublicKeys known = one.public_keys();
    CHECK(got(one.reg.inspect(&known, note)).faults.empty());
    CHECK(got(other.reg.inspect(&known, note)).faults.empty());
}

TEMPLATE_TEST_CASE("register: an older backup that comes back gives no number twice", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    IssueOptions how;
    how.issued_numbers = lab.numbers();
    std::vector<std::string> warnings;
    how.warn = [&](const std::string& text) { warnings.push_back(text); };
    const seal::PublicKeys known = lab.public_keys();
    const auto certified = [&](Register& reg, const std::string& serial) {
        Draft draft;
        draft.as_found = got(reg.enter_record(technician, record_of(serial), "B1"));
        const Id id = got(reg.draft(technician, draft));
        done(reg.mark_checked(checker, id));
        return got(reg.issue(signatory, id, "B1", lab.key(), plain_documents, how)).number;
    };
    CHECK(certified(lab.reg, "EX-1") == "B1-2026-00001");
    done(lab.reg.backup(lab.folder / "backup", "2026-03-05T09:30:00Z"));
    CHECK(certified(lab.reg, "EX-2") == "B1-2026-00002");
    CHECK(certified(lab.reg, "EX-3") == "B1-2026-00003");
    CHECK(warnings.empty());

    const ScratchFolder elsewhere;
    const std::string target = TestType::location(elsewhere);
    done(Register::restore(lab.folder / "backup", target, "2026-03-05T10:00:00Z"));
    Register restored = got(Register::open(target, "2026-03-05T10:00:00Z"));
    const InspectionReport told = got(restored.inspect(&known, how.issued_numbers));
    REQUIRE(told.faults.size() == 1);
    CHECK(told.faults[0].what.find("older backup") != std::string::npos);
    CHECK(certified(restored, "EX-4") == "B1-2026-00004");
    REQUIRE(warnings.size() == 1);
    CHECK(warnings[0].find("older backup came back") != std::string::npos);
    CHECK(certified(restored, "EX-5") == "B1-2026-00005");
    CHECK(warnings.size() == 1);
    CHECK(got(restored.inspect(&known, how.issued_numbers)).faults.empty());

    // A note that was edited is refused: numbers could be given twice.
    std::string text = *read_file(how.issued_numbers, 1 << 20);
    text.replace(text.find(" 2026 5"), 7, " 2026 1");
    done(write_file(how.issued_numbers, text));
    Draft draft;
    draft.as_found = got(restored.enter_record(technician, record_of("EX-6"), "B1"));
    const Id id = got(restored.draft(technician, draft));
    done(restored.mark_checked(checker, id));
    CHECK(refused(restored.issue(signatory, id, "B1", lab.key(), plain_documents, how)) ==
          FaultCode::damaged);
    // So is one that is gone, with or without what else lies there.
    for (const char* end : {"", ".lock"}) {
        std::filesystem::remove(how.issued_numbers + end);
        const Result<Issued> issued = restored.issue(signatory, id, "B1", lab.key(), plain_documents, how);
        CHECK(refused(issued) == FaultCode::file_missing);
        CHECK(issued.fault().remedy.find("register seal --numbers-anew") != std::string::npos);
    }
    const InspectionReport missed = got(restored.inspect(&known, how.issued_numbers));
    REQUIRE(missed.faults.size() == 1);
    CHECK(missed.faults[0].code == FaultCode::file_missing);
    // A person who may issue says why it is made anew: from what this register knows.
    CHECK(refused(restored.seal_log(technician, lab.key(), how.issued_numbers, {"the disk broke"})) ==
          FaultCode::not_permitted);
    done(restored.seal_log(signatory, lab.key(), how.issued_numbers, {"the disk broke"}));
    CHECK(refused(restored.seal_log(signatory, lab.key(), how.issued_numbers, {"again"})) ==
          FaultCode::not_permitted);
    CHECK(got(restored.inspect(&known, how.issued_numbers)).faults.empty());
    CHECK(got(restored.issue(signatory, id, "B1", lab.key(), plain_documents, how)).number ==
          "B1-2026-00006");
}
