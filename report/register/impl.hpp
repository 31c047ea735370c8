// Register::Impl: what the files of this folder share: database, documents, and how a write is done.
// Private.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "report/register/as_logged.hpp"
#include "report/register/audit.hpp"
#include "report/register/database.hpp"
#include "report/register/document_store.hpp"
#include "report/register/entries.hpp"
#include "report/register/register.hpp"
#include "report/register/rows.hpp"

namespace tipwright::report {

[[noreturn]] void stop(FaultCode code, std::string what, std::string where = {}, std::string remedy = {});

inline constexpr std::size_t max_name_bytes = 200;
inline constexpr std::size_t max_text_bytes = 4000;
// Text as it may stand in the register; throws Stop. A name is one line, and not empty.
void check_name(std::string_view field, const std::string& value);
void check_text(std::string_view field, const std::string& value);
void check_date(std::string_view field, const std::string& value, bool needed = false);
// Of something that has happened: a day on which it is nowhere today yet, by the UTC time `now`, is refused.
void check_past(std::string_view field, const std::string& value, std::string_view now, bool needed = true);
void check_interval(const std::optional<AgreedInterval>& interval);
void check_range(std::string_view field, const std::optional<double>& value, double low, double high);

// log_in: of whom it is said that they are that person, for the log of logging in alone.
enum class Permission { enter_first_person, log_in, any, measure, check, issue };

// One write in progress. The transaction is committed by written() when the work returns.
class Writer {
public:
    // Opens the transaction and checks clock and person. `locked`: lines up behind other writers at once.
    Writer(Register::Impl& impl, const Actor& actor, Permission permission, bool locked = true);
    ~Writer();
    Writer(const Writer&) = delete;
    Writer& operator=(const Writer&) = delete;

    void lock();
    // The entry holds the state of the subject's row as it stands now.
    void log(std::string_view action, std::string_view subject, Id id, std::string detail);
    // Enters a row, or changes the one with its id, and logs it. Throws Stop when a value is not fit.
    template <class T>
    Id put(const T& x) {
        check_values(x);
        if (x.id != 0) change(x);
        const Id id = x.id != 0 ? x.id : store_row(database, x);
        log(x.id == 0 ? "enter" : "change", table_of<T>.subject, id, detail_of(x));
        return id;
    }
    // Changes the row with its id, which must be as the log left it; the caller logs it.
    template <class T>
    void change(const T& x) {
        row_with_id<T>(database, x.id);
        must_be_as_logged<T>(database, x.id);
        store_row(database, x);
    }
    // The laboratory's seal under what is logged so far.
    void seal(const seal::SigningKey& key);
    AuditHead head() const { return head_; }
    void commit();

    Database& database;
    Actor actor;  // with the name as the register writes it
    Id person = 0;

private:
    void check_login(const Person& found, Permission permission) const;

    AuditHead head_;
    bool locked_ = false;
    bool done_ = false;
};

PassphraseState passphrase_state(const Person& person);
// Somebody has a passphrase.
bool logins_in_use(Database& database);
// How somebody was known who checked or issued, for the log.
std::string login_detail(const Actor& actor);

struct Register::Impl {
    std::unique_ptr<Database> database;
    std::unique_ptr<DocumentStore> documents;

    enum class How { read, write, create };
    static std::unique_ptr<Impl> open(const std::string& location, How how);
};

// Runs f and turns what it throws into a fault. f gives a T or throws Stop.
template <class F>
auto answered(F f) -> Result<decltype(f())> {
    try {
        return f();
    } catch (Stop& stop) {
        return std::move(stop.fault);
    }
}

// The same as one write transaction; f is given the Writer.
template <class F>
auto written(Register::Impl& impl, const Actor& actor, Permission permission, F f)
    -> Result<decltype(f(std::declval<Writer&>()))> {
    return answered([&] {
        Writer writer(impl, actor, permission);
        auto out = f(writer);
        writer.commit();
        return out;
    });
}

// The same for reading: all queries of f see one state of the register.
template <class F>
auto snapshot(Register::Impl& impl, F f) -> Result<decltype(f())> {
    return answered([&] {
        struct End {
            Database& database;
            ~End() { database.rollback(); }
        };
        impl.database->begin_snapshot();
        const End end{*impl.database};
        return f();
    });
}

// A SHA-256 as the rows keep it, base64 of what is hex elsewhere: a register of a million certificates holds
// ten million of them. Text that is not one is given back, and then names no document. Empty stays empty.
std::string kept_digest(const std::string& hex);
std::string digest_of(const std::string& kept);

// Rows shared by several files. 0: none.
Id find_customer(Database& database, const std::string& name);
Id find_station(Database& database, Id customer, const std::string& name);
std::optional<GaugeEntry> find_gauge(Database& database, const std::string& serial, const std::string& model);
// Of a list's or question's filter; throws Stop when there is none of that name. 0: not asked for.
struct Owner {
    Id customer = 0;
    Id station = 0;
};
Owner owner_of(Database& database, const ListFilter& filter);
Table::Value text_value(const Row& row, std::size_t column);
Id put_gauge_row(Writer& writer, const GaugeEntry& gauge, bool other_model_meant);
Id put_customer_row(Writer& writer, const Customer& customer);
Id put_station_row(Writer& writer, const Station& station);
Id put_instrument_row(Writer& writer, const InstrumentEntry& instrument);
Id find_instrument(Database& database, const InstrumentEntry& instrument);
Id find_calibration(Database& database, const InstrumentCalibration& calibration);
Id put_calibration_row(Writer& writer, const InstrumentCalibration& calibration);
// Due date from the last calibration and the interval agreed for the gauge or its customer.
void refresh_due(Database& database, Id gauge);
// Date of the last calibration of a gauge g, here or elsewhere, as SQL.
inline constexpr std::string_view last_calibration_sql =
    "(SELECT max(d.day) FROM (SELECT c.calibrated_on AS day FROM certificates c WHERE c.gauge_id = g.id AND "
    "c.state = 'issued' UNION ALL SELECT e.calibrated_on FROM calibrations_elsewhere e WHERE e.gauge_id = "
    "g.id) d)";
// Where it was made, of a gauge g, as SQL; NULL before the first.
inline constexpr std::string_view last_calibrated_where_sql =
    "(CASE WHEN g.last_calibrated_on IS NULL THEN NULL WHEN EXISTS (SELECT 1 FROM certificates c WHERE "
    "c.gauge_id = g.id AND c.state = 'issued' AND c.calibrated_on = g.last_calibrated_on) THEN 'here' ELSE "
    "'elsewhere' END)";

std::string_view name_of(CertificateKind kind);
std::string_view name_of(CertificateState state);

}  // namespace tipwright::report
