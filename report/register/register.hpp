// Register: gauges, stations, customers, instruments, runs, records, certificates, orders, findings,
// adjustments, and an audit log of every write; over SQLite (a folder, no set-up) or PostgreSQL (a connection
// string, shared by benches and workshops). One object is one connection: use it from one thread at a time;
// others open their own. A certificate goes draft -> checked by a second person -> issued; numbers
// BENCH-YEAR-NNNNN follow one another, and the log says which are left out and why; an issued one never
// changes, amendments and replacements refer to it. Every write is one transaction: whole or not at all.
// Faults: not_permitted (rules), duplicate, missing_field, bad_value, inconsistent (clock set back, records
// that do not belong together), unknown_field (no such thing), damaged, database_unreachable, disk_full, ...
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/register/beyond_bench.hpp"
#include "report/register/entries.hpp"
#include "report/register/life.hpp"
#include "report/register/table.hpp"
#include "report/seal/seal.hpp"

namespace tipwright::report {

// A clock may lag behind the register's last entry by this much before it counts as set back; benches that
// share a server never agree to the second.
inline constexpr int clock_tolerance_s = 300;
// After so many wrong passphrases of a person within this time, none is tried before it has passed.
inline constexpr int wrong_logins_allowed = 5;
inline constexpr int wrong_logins_s = 600;

struct IssueOptions {
    // File beside the keys that notes, signed, which numbers were given (issued_numbers.hpp); empty: none.
    std::string issued_numbers;
    // Told in one line when register and note do not agree: an older backup or note came back.
    std::function<void(const std::string&)> warn;
    // Told when certificates were given, and the note of it could not be written to its end.
    std::function<void(const Fault&)> unnoted;
    int threads = 1;     // that draw at once
    int group = 16;      // certificates a transaction
    std::string reason;  // why reservations are accepted; empty: nothing with reservations is issued
    const seal::X509Key* signer = nullptr;  // signs PDF and XML too; the PDF has a place for it
    // Told of each stage ("numbered", "drawn", "stored", "written", "committed"), for progress and tests.
    std::function<void(std::string_view stage, std::size_t done)> on_stage;
};

// Why something is sealed all the same, by who may issue; stays told by every inspection.
struct SealingWords {
    std::string numbers_anew = {};  // the note beside the keys is lost: it is made anew from this register
    std::string as_it_stands = {};  // the log was changed past the program
    // Told in one line what is missed: an older backup or note came back, a seal does not count.
    std::function<void(const std::string&)> warn = {};
};

struct ListFilter {
    std::string serial;        // lists of certificates and orders only
    std::string customer;      // name; empty: any
    std::string station;       // name, with a customer
    std::string from_month;    // "2031-05"; empty: from the first
    std::string to_month;      // and including this one; empty: to the last
    std::size_t limit = 1000;  // rows
};

class Register {
public:
    // `location`: a folder (register.sqlite and documents/ are kept in it) or a PostgreSQL connection string.
    // Brings an older schema up to date. `create`: makes the register when there is none.
    static Result<Register> open(const std::string& location, const std::string& now, bool create = false);
    // Of a folder, not a byte of its database is changed: an older schema is read as it is, or refused.
    static Result<Register> open_to_read(const std::string& location, const std::string& now);
    ~Register();
    Register(Register&&) noexcept;
    Register& operator=(Register&&) noexcept;

    // --- people, customers, entities. An id of 0 enters a new one, any other changes that one. ---
    // The first person of a register enters themselves and may issue. Names are compared as people read them
    // (persons.hpp); one that looks like another's is refused.
    Result<Id> put_person(const Actor& actor, const Person& person);
    // Who has a passphrase writes only after logging in. Once one person has one, nobody checks or issues
    // without an own one. Gives the person's name as the register writes it. Fault: wrong_passphrase,
    // not_permitted (has none yet; wrong_logins_allowed wrong ones within wrong_logins_s), unknown_field.
    // Takes about a tenth of a second (Argon2id).
    Result<Actor> log_in(const std::string& name, const std::string& now, const seal::Passphrase& passphrase);
    // One's own, or another's first or forgotten one, by who may issue; the log tells which. The first
    // passphrase of a register is set by somebody who may issue, for themselves.
    Outcome set_passphrase(const Actor& actor, const std::string& name, const seal::Passphrase& passphrase);
    // Fault: unknown_field.
    Result<Person> person(const std::string& name);
    Result<Id> put_customer(const Actor& actor, const Customer& customer);
    Result<Id> put_station(const Actor& actor, const Station& station);
    // The same serial under another model is refused unless `other_model_meant`.
    Result<Id> put_gauge(const Actor& actor, const GaugeEntry& gauge, bool other_model_meant = false);
    Result<Id> put_instrument(const Actor& actor, const InstrumentEntry& instrument);
    Result<Id> put_calibration(const Actor& actor, const InstrumentCalibration& calibration);
    // Its own calibration failed: it was good up to good_until. Gives the certificates to recall.
    Result<Table> instrument_failed(const Actor& actor, Id instrument, const std::string& good_until,
                                    const std::string& found_on, const std::string& found);
    // CSV with a heading; see import.cpp for its columns. All or nothing.
    Result<ImportReport> import_gauges(const Actor& actor, std::string_view csv, const std::string& name);

    Result<std::vector<Person>> people();
    Result<Customer> customer(const std::string& name);
    Result<Customer> customer(Id id);
    Result<Station> station(Id customer, const std::string& name);
    Result<Station> station(Id id);
    Result<GaugeEntry> gauge(Id id);
    Result<std::vector<GaugeEntry>> gauges_with_serial(const std::string& serial);
    Result<std::vector<InstrumentEntry>> instruments_with_serial(const std::string& serial);

    // --- service ---
    Result<Id> open_order(const Actor& actor, const Order& order);
    Result<Id> add_finding(const Actor& actor, const Finding& finding);
    Result<Id> add_adjustment(const Actor& actor, const Adjustment& adjustment);
    Outcome close_order(const Actor& actor, Id order);
    Result<Id> open_order_of(Id gauge);  // 0: none

    // --- beyond the bench ---
    // Calibrations that others made, from CSV, a line a point; see import_elsewhere.cpp. All or nothing. They
    // make gauges due, and count nowhere as the laboratory's own.
    Result<ImportReport> import_calibrations(const Actor& actor, std::string_view csv,
                                             const std::string& name);
    // Oldest first.
    Result<std::vector<ElsewhereCalibration>> calibrations_elsewhere(Id gauge);
    Result<Id> add_field_check(const Actor& actor, const FieldCheckEntry& check);

    // --- records and certificates ---
    // Before the water is poured: whether what is to be measured on that day, of which gauge and instruments
    // are known, would be refused by enter_record() or by draft(). Fault: inconsistent (the register knows
    // the gauge otherwise), not_permitted (an instrument was found faulty).
    Outcome check_run(const Record& planned, const std::string& bench, const std::string& day);
    // Enters gauge, customer, station and instruments too, where they are new.
    Result<Id> enter_record(const Actor& actor, const Record& record, const std::string& bench);
    Result<Id> draft(const Actor& actor, const Draft& draft);
    Outcome mark_checked(const Actor& actor, Id certificate);
    Outcome send_back(const Actor& actor, Id certificate, const std::string& why);
    Outcome discard(const Actor& actor, Id certificate, const std::string& why);
    // Numbers, seals, has the documents made, stores them, and only then says so. `bench`: 1 to 8 capital
    // letters or digits. PDF and XML get their seal line here.
    Result<Issued> issue(const Actor& actor, Id certificate, const std::string& bench,
                         const seal::SigningKey& key, const DocumentMaker& maker,
                         const IssueOptions& options = {});
    // Any number of them, by groups; the answer to each, in order. One that fails leaves no gap.
    std::vector<Result<Issued>> issue_many(const Actor& actor, const std::vector<Id>& certificates,
                                           const std::string& bench, const seal::SigningKey& key,
                                           const DocumentMaker& maker, const IssueOptions& options = {});
    // Somebody compared these very numbers with the current edition of their source: verdicts by them are no
    // longer provisional. A certificate with a verdict by limits that nobody confirmed is not issued.
    Outcome confirm_limits(const Actor& actor, const calib::Limits& limits, const std::string& edition,
                           const std::string& by);
    Result<Certificate> certificate(Id id);
    Result<Certificate> certificate(const std::string& number);
    Result<std::string> document(const std::string& sha256);
    // Its statement is decided by this program, whatever wrote the record.
    Result<Record> record(Id id);
    // Of each gauge that the filter (serial, customer, station) means, the last certificate that stands; by
    // number.
    Result<std::vector<std::string>> valid_certificates(const ListFilter& filter);

    // --- lists, by name or number; of the filter serial, customer, station and limit count ---
    Result<Table> list_customers();
    Result<Table> list_stations(const ListFilter& filter);
    Result<Table> list_gauges(const ListFilter& filter);
    Result<Table> list_instruments();
    Result<Table> list_orders(const ListFilter& filter, bool open_only);
    Result<Table> list_certificates(const ListFilter& filter);

    // --- questions ---
    // Every gauge of that serial number, each in order of time.
    Result<Life> life(const std::string& serial);
    Result<Table> due(const ListFilter& filter);
    // Gauges that were calibrated and have no interval: due() never names them.
    Result<std::int64_t> never_due();
    // Certificates that used an instrument between two dates, both included.
    Result<Table> recall(Id instrument, const std::string& from, const std::string& to,
                         std::size_t limit = 100000);
    // Gauges of a kind (empty: any) whose error moved by more than `percent` in the `years` before `today`;
    // what an adjustment moved does not count.
    Result<Table> drifted(const std::string& kind, double percent, double years, const std::string& today);
    // As found, by kind and whole years since the gauge went into service (or was first calibrated here).
    Result<Table> in_tolerance(const std::string& kind = {});
    // Drafts and checked certificates that wait.
    Result<Table> open_work();
    Result<Table> audit_log(std::size_t last = 100);

    // --- maintenance ---
    // Into a folder, while others write; documents that are there already are not copied again.
    Outcome backup(const std::string& folder, const std::string& now);
    // Into a new register at `location`, of either kind. Everything is checked before and after.
    static Outcome restore(const std::string& folder, const std::string& location, const std::string& now);
    // Everything that can be checked: database, audit chain, numbers, every column of every row against the
    // log, documents; with keys also the seals of certificates and log, and with the file `issued_numbers`
    // that nothing is missing which was there when the register was last sealed.
    Result<InspectionReport> inspect(const seal::PublicKeys* keys, const std::string& issued_numbers = {});
    // The laboratory's seal under the log, and a note of it in the file `issued_numbers`. A log that does not
    // hold, by chain, seals and note, is not sealed. Fault: damaged.
    Outcome seal_log(const Actor& actor, const seal::SigningKey& key, const std::string& issued_numbers,
                     const SealingWords& words = {});
    // Removes documents nothing names.
    Outcome tidy(const Actor& actor);
    // After a clock that ran ahead was put right: entries may be earlier than the last one again.
    Outcome accept_clock(const Actor& actor, const std::string& why);

    struct Impl;  // for the files of this folder

private:
    explicit Register(std::unique_ptr<Impl> impl);
    std::unique_ptr<Impl> impl_;
};

}  // namespace tipwright::report
