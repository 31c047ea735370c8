// A register of an invented laboratory, on either database, for the tests of report/register.
#pragma once

#include <catch2/catch.hpp>
#include <memory>
#include <string>

#include "report/files/fingerprint.hpp"
#include "report/register/database.hpp"
#include "report/register/numbers_beside_keys.hpp"
#include "report/register/register.hpp"
#include "report/seal/keys.hpp"
#include "tests/report/postgresql_server.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/report/scratch_folder.hpp"

namespace tipwright::test {

// The two databases; every test of the register's behaviour runs on both.
struct OnSqlite {
    static constexpr bool postgresql = false;
    static std::string location(const ScratchFolder& folder) { return folder / "register"; }
    static std::unique_ptr<report::Database> raw(const std::string& location) {
        return report::Database::open_sqlite(location + "/register.sqlite", false);
    }
};

struct OnPostgresql {
    static constexpr bool postgresql = true;
    static std::string location(const ScratchFolder&) { return PostgresqlServer::shared().make_database(); }
    static std::unique_ptr<report::Database> raw(const std::string& location) {
        return report::Database::open_postgresql(location);
    }
};

template <class T>
T got(Result<T> result) {
    if (!result) FAIL(result.fault().line());
    return std::move(result.value());
}

inline void done(const Outcome& outcome) {
    if (!outcome) FAIL(outcome.fault().line());
}

template <class T>
FaultCode refused(const Result<T>& result) {
    if (result) FAIL("should have been refused");
    const std::string line = result.fault().line();
    CHECK(line.find('\n') == std::string::npos);
    CHECK(line.size() > 10);
    return result.fault().code;
}

inline const report::Actor technician{"T. Technician", "2026-03-05T09:00:00Z"};
inline const report::Actor checker{"C. Checker", "2026-03-05T09:00:00Z"};
inline const report::Actor signatory{"A. Signatory", "2026-03-05T09:00:00Z"};

inline report::Actor at(const report::Actor& who, const std::string& now) {
    return {who.person, now};
}

// A record of a gauge. `V0_mL` moves the whole error curve.
inline report::Record record_of(const std::string& serial, const std::string& day = "2026-03-02",
                                report::State state = report::State::as_found, double V0_mL = 6.15) {
    SampleOptions wish;
    wish.V0_mL = V0_mL;
    report::Record record = sample_record(wish);
    record.number = "DRAFT";
    record.authorised_by.clear();
    record.issued_on.clear();
    record.identity.serial = serial;
    record.state = state;
    record.started_at = day + "T08:14:00Z";
    record.ended_at = day + (state == report::State::as_found ? "T10:51:20Z" : "T15:20:00Z");
    record.source_sha256 = report::sha256_hex(
        serial + day + (state == report::State::as_found ? "found" : "left") + std::to_string(V0_mL));
    return record;
}

// Documents with the number and the records in them; real drawing is tested with the certificate.
inline Result<report::Documents> plain_documents(const report::IssueSheet& sheet) {
    report::Documents out;
    out.pdf = "%PDF-1.4\n% " + sheet.number + " " + sheet.seal.fingerprint + "\n%%EOF\n";
    out.xml = "<certificate number=\"" + sheet.number + "\"/>\n";
    out.others = {{"correction.csv", "interval_s,depth_mm\n1,0.2\n"}};
    return out;
}

template <class Place>
struct Laboratory {
    ScratchFolder folder;
    std::string location = Place::location(folder);
    std::string keys = folder / "keys";
    report::Register reg;

    Laboratory() : reg(got(report::Register::open(location, "2026-01-01T00:00:00Z", true))) {
        const seal::PassphraseCost cheap{1, 8192};
        got(seal::make_keys(keys, seal::Passphrase("a passphrase"), "2026-01-01", cheap));
        const report::Actor first{"A. Signatory", "2026-01-01T00:00:01Z"};
        got(reg.put_person(first, {0, "A. Signatory", true, true, true, true}));
        got(reg.put_person(first, {0, "T. Technician", true, false, false, true}));
        got(reg.put_person(first, {0, "C. Checker", true, true, false, true}));
    }

    report::Register another() const { return got(report::Register::open(location, "2026-01-01T00:00:00Z")); }
    seal::SigningKey key() const { return got(seal::unlock_key(keys, seal::Passphrase("a passphrase"))); }
    seal::PublicKeys public_keys() const { return got(seal::PublicKeys::read(keys + "/public-keys.txt")); }
    // The note beside the keys of the numbers given, as whoever makes the keys begins it.
    std::string numbers() const {
        const std::string path = keys + "/issued-numbers.txt";
        done(report::begin_numbers(path, key(), "2026-01-01"));
        return path;
    }
    std::unique_ptr<report::Database> raw() const { return Place::raw(location); }

    // Draft, checked.
    report::Id checked(report::Id as_found, report::Id as_left = 0, const std::string& day = "2026-03-05") {
        report::Draft draft;
        draft.as_found = as_found;
        draft.as_left = as_left;
        const report::Id id = got(reg.draft(at(technician, day + "T09:00:00Z"), draft));
        done(reg.mark_checked(at(checker, day + "T09:00:00Z"), id));
        return id;
    }

    report::Id entered(const report::Record& record, const std::string& day = "2026-03-05") {
        return got(reg.enter_record(at(technician, day + "T09:00:00Z"), record, "B1"));
    }

    report::Issued issued(report::Id id, const std::string& day = "2026-03-05",
                          const std::string& bench = "B1") {
        return got(reg.issue(at(signatory, day + "T09:00:00Z"), id, bench, key(), plain_documents));
    }

    // The whole way for one gauge.
    std::string certified(const std::string& serial, const std::string& day = "2026-03-05",
                          double V0_mL = 6.15) {
        return issued(checked(entered(record_of(serial, day, report::State::as_found, V0_mL), day), 0, day),
                      day)
            .number;
    }

    // Whatever happened, nothing is wrong.
    report::InspectionReport inspected() {
        const seal::PublicKeys known = public_keys();
        report::InspectionReport report = got(reg.inspect(&known));
        for (const Fault& fault : report.faults) UNSCOPED_INFO(fault.line());
        CHECK(report.faults.empty());
        return report;
    }
};

}  // namespace tipwright::test
