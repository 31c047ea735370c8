// Whoever seals a log vouches for it: what was changed past the program is not sealed over, and what an older
// backup or an older note misses is told when it is sealed and by every inspection since.
#include <filesystem>

#include "report/files/files.hpp"
#include "report/register/issued_numbers.hpp"
#include "tests/report/behind_its_back.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

// A laboratory with its note beside the keys, which issues by it.
template <class Place>
struct Noted : Laboratory<Place> {
    IssueOptions how;
    std::vector<std::string> warnings;
    std::vector<std::string> unnoted;

    Noted() {
        how.issued_numbers = this->numbers();
        how.warn = [this](const std::string& text) { warnings.push_back(text); };
        how.unnoted = [this](const Fault& fault) { unnoted.push_back(fault.line()); };
    }
    Noted(const Noted&) = delete;

    Id checked_in(Register& in, const std::string& serial) {
        Draft draft;
        draft.as_found = got(in.enter_record(technician, record_of(serial), "B1"));
        const Id id = got(in.draft(technician, draft));
        done(in.mark_checked(checker, id));
        return id;
    }
    Result<Issued> issue(Register& in, Id id) {
        return in.issue(signatory, id, "B1", this->key(), plain_documents, how);
    }
    std::string certify(Register& in, const std::string& serial) {
        return got(issue(in, checked_in(in, serial))).number;
    }
    std::string certify(const std::string& serial) { return certify(this->reg, serial); }
    Outcome seal(Register& in, SealingWords words = {}) {
        words.warn = how.warn;
        return in.seal_log(signatory, this->key(), how.issued_numbers, words);
    }
    std::string note() const { return *read_file(how.issued_numbers, 1 << 20); }
    void put_note(const std::string& text) const { done(write_file(how.issued_numbers, text, 0600)); }
    InspectionReport inspected(Register& in) {
        const seal::PublicKeys known = this->public_keys();
        return got(in.inspect(&known, how.issued_numbers));
    }
    InspectionReport inspected() { return inspected(this->reg); }
    void back_up(const std::string& name) {
        done(this->reg.backup(this->folder / name, "2026-03-05T09:30:00Z"));
    }
    Register restored(const std::string& name, const ScratchFolder& elsewhere) {
        const std::string target = Place::location(elsewhere);
        done(Register::restore(this->folder / name, target, "2026-03-05T10:00:00Z"));
        return got(Register::open(target, "2026-03-05T10:00:00Z"));
    }
};

bool stays_told(const InspectionReport& report, const std::string& what) {
    std::string all;
    for (const std::string& one : report.accepted) all += one + "\n";
    UNSCOPED_INFO(all);
    return all.find(what) != std::string::npos;
}

// Past its guards, and with the log computed again: no key is needed for that.
void tamper(Database& raw, bool seals_too) {
    behind_its_back(raw, "audit", "UPDATE audit SET detail = '{\"name\":\"Other\"}' WHERE seq = 3");
    compute_log_again(raw);
    if (seals_too) behind_its_back(raw, "log_seals", "DELETE FROM log_seals");
}

}  // namespace

TEMPLATE_TEST_CASE("register: a log that was changed past the program is not sealed over", "", OnSqlite,
                   OnPostgresql) {
    Noted<TestType> lab;
    CHECK(lab.certify("EX-1") == "B1-2026-00001");
    CHECK(lab.certify("EX-2") == "B1-2026-00002");
    const Id waiting = lab.checked_in(lab.reg, "EX-3");
    const std::string note = lab.note();
    SECTION("its chain computed again") {
        tamper(*lab.raw(), false);
    }
    SECTION("its chain computed again, without the seals") {
        tamper(*lab.raw(), true);
    }
    SECTION("its seals taken away") {
        behind_its_back(*lab.raw(), "log_seals", "DELETE FROM log_seals");
    }
    SECTION("its last seal taken away") {
        behind_its_back(*lab.raw(), "log_seals", "DELETE FROM log_seals WHERE id = 2");
    }
    SECTION("an entry since the last seal changed") {
        behind_its_back(*lab.raw(), "audit",
                        "UPDATE audit SET person = 'Nobody' WHERE seq = (SELECT max(seq) FROM audit)");
    }
    const InspectionReport before = lab.inspected();
    CHECK_FALSE(before.faults.empty());
    CHECK(before.accepted.empty());
    const Outcome sealed = lab.seal(lab.reg);
    CHECK(refused(sealed) == FaultCode::damaged);
    CHECK(sealed.fault().remedy.find("register seal --as-it-stands") != std::string::npos);
    CHECK(refused(lab.issue(lab.reg, waiting)) == FaultCode::damaged);
    CHECK(got(lab.reg.certificate(waiting)).state == CertificateState::checked);
    // Nothing was noted either: the loss is as visible as before.
    CHECK(lab.note() == note);
    CHECK(lab.inspected().faults.size() == before.faults.size());

    // By who may issue, who says why; that stays told, also after further seals.
    SealingWords words;
    words.as_it_stands = "put right by hand (invented)";
    CHECK(refused(lab.reg.seal_log(technician, lab.key(), lab.how.issued_numbers, words)) ==
          FaultCode::not_permitted);
    done(lab.seal(lab.reg, words));
    CHECK(refused(lab.seal(lab.reg, words)) == FaultCode::not_permitted);  // nothing since
    done(lab.seal(lab.reg));
    CHECK(got(lab.issue(lab.reg, waiting)).number == "B1-2026-00003");
    CHECK(stays_told(lab.inspected(), "A. Signatory: the log was sealed as it stood"));
    const seal::PublicKeys known = lab.public_keys();
    CHECK(stays_told(got(lab.reg.inspect(&known)), "put right by hand (invented)"));
}

TEMPLATE_TEST_CASE("register: an older backup is told when it is sealed, and from then on", "", OnSqlite,
                   OnPostgresql) {
    Noted<TestType> lab;
    CHECK(lab.certify("EX-1") == "B1-2026-00001");
    lab.back_up("backup");
    got(lab.reg.put_customer(technician, {0, "Not in the backup (invented)", "", "", {}}));
    done(lab.seal(lab.reg));
    CHECK(lab.warnings.empty());
    CHECK(lab.inspected().accepted.empty());

    const ScratchFolder elsewhere;
    Register restored = lab.restored("backup", elsewhere);
    CHECK(told_of(lab.inspected(restored), "an older backup came back"));
    SECTION("sealed") {
        done(lab.seal(restored));
    }
    SECTION("issued") {
        CHECK(lab.certify(restored, "EX-2") == "B1-2026-00002");
    }
    REQUIRE(lab.warnings.size() == 1);
    CHECK(lab.warnings[0].find("an older backup came back") != std::string::npos);
    done(lab.seal(restored));
    CHECK(lab.warnings.size() == 1);
    const InspectionReport after = lab.inspected(restored);
    CHECK(after.faults.empty());
    CHECK(stays_told(after, "lacks what it held when it was last sealed"));
}

TEMPLATE_TEST_CASE("register: the next number is beyond what register and note know", "", OnSqlite,
                   OnPostgresql) {
    Noted<TestType> lab;
    const std::string begun_with_the_keys = lab.note();
    CHECK(lab.certify("EX-1") == "B1-2026-00001");
    const std::string after_the_first = lab.note();
    CHECK(lab.certify("EX-2") == "B1-2026-00002");
    SECTION("the note knows less") {
        lab.put_note(after_the_first);
        CHECK(told_of(lab.inspected(), "an older note came back"));
        CHECK(lab.certify("EX-3") == "B1-2026-00003");
        REQUIRE(lab.warnings.size() == 1);
        CHECK(lab.warnings[0].find("an older note came back") != std::string::npos);
    }
    SECTION("the note is as it was made with the keys") {
        lab.put_note(begun_with_the_keys);
        CHECK(told_of(lab.inspected(), "does not know this register"));
        CHECK(lab.certify("EX-3") == "B1-2026-00003");
        REQUIRE(lab.warnings.size() == 1);
        CHECK(lab.warnings[0].find("does not know this register") != std::string::npos);
    }
    SECTION("the same, sealed first") {
        lab.put_note(begun_with_the_keys);
        done(lab.seal(lab.reg));
        REQUIRE(lab.warnings.size() == 1);
        CHECK(lab.certify("EX-3") == "B1-2026-00003");
        CHECK(lab.warnings.size() == 1);
    }
    CHECK(lab.inspected().faults.empty());
    CHECK(stays_told(lab.inspected(), "an older note came back"));
}

TEMPLATE_TEST_CASE("register: an issue that did not note its end gives its numbers to nobody else", "",
                   OnSqlite, OnPostgresql) {
    Noted<TestType> lab;
    CHECK(lab.certify("EX-1") == "B1-2026-00001");
    const Id second = lab.checked_in(lab.reg, "EX-2");
    lab.back_up("before");
    std::string begun;
    const std::string aside = lab.folder / "keys-aside";
    lab.how.on_stage = [&](std::string_view stage, std::size_t) {
        if (stage != "written") return;
        begun = lab.note();
        std::filesystem::rename(lab.keys, aside);  // the second note finds no folder
    };
    const seal::SigningKey key = lab.key();
    CHECK(got(lab.reg.issue(signatory, second, "B1", key, plain_documents, lab.how)).number ==
          "B1-2026-00002");
    std::filesystem::rename(aside, lab.keys);
    lab.how.on_stage = nullptr;
    CHECK(lab.unnoted.size() == 1);
    CHECK(lab.note() == begun);
    // Open, and told.
    CHECK(lab.inspected().faults.empty());
    CHECK(stays_told(lab.inspected(), "B1-2026-00002 were about to be given"));
    SECTION("the register goes on") {
        CHECK(lab.certify("EX-3") == "B1-2026-00003");
        CHECK(lab.warnings.empty());
        CHECK(lab.inspected().accepted.empty());
    }
    SECTION("the register is sealed") {
        done(lab.seal(lab.reg));
        CHECK(lab.inspected().accepted.empty());
        CHECK(lab.certify("EX-3") == "B1-2026-00003");
    }
    SECTION("the register comes back as it was before that issue") {
        const ScratchFolder elsewhere;
        Register restored = lab.restored("before", elsewhere);
        CHECK(stays_told(lab.inspected(restored), "B1-2026-00002 were about to be given"));
        CHECK(lab.certify(restored, "EX-3") == "B1-2026-00003");
        REQUIRE(lab.warnings.size() == 1);
        CHECK(lab.warnings[0].find("an issue was cut off") != std::string::npos);
        CHECK(lab.inspected(restored).faults.empty());
    }
}
