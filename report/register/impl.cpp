#include "report/register/impl.hpp"

#include <algorithm>

#include "calib/base/dates.hpp"
#include "calib/base/text.hpp"
#include "report/files/files.hpp"
#include "report/register/connection.hpp"
#include "report/register/dates.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::report {
namespace {

void check_clock(const AuditHead& head, const Actor& actor) {
    if (!is_utc_time(actor.now))
        stop(FaultCode::bad_value, in_quotes(actor.now) + " is not a UTC time", "now");
    if (!head.at.empty() && second_number(actor.now) < second_number(head.at) - clock_tolerance_s)
        stop(FaultCode::inconsistent,
             "the clock says " + actor.now + ", the register was last written at " + head.at, "clock",
             "set the clock; if it ran ahead before: tipwright register accept-clock --reason TEXT");
}

}  // namespace

void stop(FaultCode code, std::string what, std::string where, std::string remedy) {
    throw Stop{{code, std::move(what), std::move(where), std::move(remedy)}};
}

Writer::Writer(Register::Impl& impl, const Actor& given, Permission permission, bool locked)
    : database(*impl.database), actor(given) {
    database.begin_write();
    try {  // a constructor that throws runs no destructor
        if (locked)
            lock();
        else
            check_clock(read_audit_head(database), actor);
        if (permission == Permission::enter_first_person &&
            database.row("SELECT count(*) FROM people", "i")->integer(0) == 0)
            return;
        const std::optional<Person> found =
            row_where<Person>(database, "t.name_key = :p1", {person_key(actor.person)});
        if (!found)
            stop(FaultCode::unknown_field, "the register knows no person " + in_quotes(actor.person),
                 "person");
        actor.person = found->name;
        if (!found->active)
            stop(FaultCode::not_permitted, in_quotes(actor.person) + " is no longer active in the register",
                 "person");
        // A wrong passphrase is counted whatever became of the row.
        if (permission != Permission::log_in) must_be_as_logged<Person>(database, found->id);
        check_login(*found, permission);
        const auto need = [&](bool may, const char* what) {
            if (!may)
                stop(FaultCode::not_permitted, in_quotes(actor.person) + " may not " + what, "person",
                     "have the right given by someone who may issue");
        };
        if (permission == Permission::measure) need(found->may_measure, "measure");
        if (permission == Permission::check) need(found->may_check, "check");
        if (permission == Permission::issue || permission == Permission::enter_first_person)
            need(found->may_issue, "issue");
        person = found->id;
    } catch (...) {
        database.rollback();
        throw;
    }
}

void Writer::check_login(const Person& found, Permission permission) const {
    if (permission == Permission::log_in) return;
    const PassphraseState passphrase = passphrase_state(found);
    if (passphrase != PassphraseState::none && !actor.logged_in)
        stop(FaultCode::not_permitted, in_quotes(found.name) + " must log in with a passphrase, and did not",
             "person", "give the passphrase");
    if (permission != Permission::check && permission != Permission::issue &&
        permission != Permission::enter_first_person)
        return;
    if (passphrase == PassphraseState::given)
        stop(FaultCode::not_permitted,
             in_quotes(found.name) + " still has the passphrase that somebody else gave", "person",
             "set your own: tipwright register person passphrase");
    if (passphrase == PassphraseState::none && logins_in_use(database))
        stop(FaultCode::not_permitted,
             in_quotes(found.name) +
                 " has no passphrase, and in this register nobody checks or issues without one",
             "person", "have one given by someone who may issue: tipwright register person passphrase NAME");
}

Writer::~Writer() {
    if (!done_) database.rollback();
}

void Writer::lock() {
    if (locked_) return;
    head_ = lock_audit_head(database);
    locked_ = true;
    check_clock(head_, actor);
}

void Writer::log(std::string_view action, std::string_view subject, Id id, std::string detail) {
    const TableShape* shape = shape_of_subject(subject);
    append_audit(database, head_,
                 {0, actor.now, actor.person, std::string(action), std::string(subject), id,
                  std::move(detail), shape != nullptr ? row_state(database, *shape, id) : "", ""});
}

void Writer::seal(const seal::SigningKey& key) {
    seal_head(database, head_, actor.now, key);
}

void Writer::commit() {
    database.commit();
    done_ = true;
}

std::unique_ptr<Register::Impl> Register::Impl::open(const std::string& location, How how) {
    auto impl = std::make_unique<Impl>();
    if (is_postgresql(location)) {
        impl->database = Database::open_postgresql(location);
        impl->documents = table_store(*impl->database);
        return impl;
    }
    if (location.empty()) stop(FaultCode::bad_value, "no folder given", "register");
    if (how == How::create) must(make_folder(location));
    const std::string file = location + "/register.sqlite";
    impl->database = how == How::read ? Database::look_at_sqlite(file, 30)
                                      : Database::open_sqlite(file, how == How::create);
    impl->documents = folder_store(location + "/documents");
    return impl;
}

void check_name(std::string_view field, const std::string& value) {
    if (value.empty()) stop(FaultCode::missing_field, "not given", std::string(field));
    if (value.size() > max_name_bytes)
        stop(FaultCode::bad_value, "longer than " + std::to_string(max_name_bytes) + " bytes",
             std::string(field));
    check_text(field, value);
    if (value.find_first_of("\n\r\t") != std::string::npos || value.front() == ' ' || value.back() == ' ')
        stop(FaultCode::bad_value, in_quotes(value) + " has line ends, tabs, or spaces at an end",
             std::string(field));
}

void check_text(std::string_view field, const std::string& value) {
    if (value.size() > max_text_bytes)
        stop(FaultCode::bad_value, "longer than " + std::to_string(max_text_bytes) + " bytes",
             std::string(field));
    if (valid_utf8(value) != value || value.find('\0') != std::string::npos)
        stop(FaultCode::bad_value, in_quotes(value) + " is not UTF-8 text", std::string(field));
}

void check_date(std::string_view field, const std::string& value, bool needed) {
    if (value.empty() && !needed) return;
    if (value.empty()) stop(FaultCode::missing_field, "no date given", std::string(field));
    if (!is_iso_date(value))
        stop(FaultCode::bad_value, in_quotes(value) + " is not a date", std::string(field),
             "write 2031-05-04");
}

void check_past(std::string_view field, const std::string& value, std::string_view now, bool needed) {
    check_date(field, value, needed);
    const std::string today = date_of(now);
    // East of Greenwich it is tomorrow already.
    if (!value.empty() && value > date_of_day(day_number(today) + 1))
        stop(FaultCode::inconsistent, value + " is after today, " + today, std::string(field),
             "give the day on which it was");
}

void check_interval(const std::optional<AgreedInterval>& interval) {
    if (!interval) return;
    if (interval->months < 1 || interval->months > 240)
        stop(FaultCode::bad_value, std::to_string(interval->months) + " months, must be 1 to 240",
             "interval_months");
    if (interval->agreed.empty())
        stop(FaultCode::missing_field, "an interval needs a note of where the customer agreed to it",
             "interval_agreed", "write it as interval_agreed; ISO/IEC 17025:2017 7.8.4.3");
    check_text("interval_agreed", interval->agreed);
}

void check_range(std::string_view field, const std::optional<double>& value, double low, double high) {
    if (value && !(*value >= low && *value <= high))
        stop(FaultCode::bad_value,
             std::to_string(*value) + " is outside " + std::to_string(low) + " to " + std::to_string(high),
             std::string(field));
}

std::string kept_digest(const std::string& hex) {
    const std::optional<std::string> bytes = seal::from_hex(hex);
    return bytes ? seal::to_base64(*bytes) : hex;
}

std::string digest_of(const std::string& kept) {
    const std::optional<std::string> bytes = seal::from_base64(kept);
    return bytes ? seal::to_hex(*bytes) : kept;
}

std::string key_of(std::string_view text) {
    std::string out;
    for (const char c : text) {
        if (c == ' ' || c == '\t') continue;
        out.push_back(c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c);
    }
    return out;
}

std::string instrument_key(std::string_view role, std::string_view description, std::string_view serial) {
    return key_of(role) + "|" + (serial.empty() ? "?" + key_of(description) : key_of(serial));
}

std::string_view name_of(CertificateKind kind) {
    return certificate_kind_names[static_cast<std::size_t>(kind)];
}

std::string_view name_of(CertificateState state) {
    return certificate_state_names[static_cast<std::size_t>(state)];
}

}  // namespace tipwright::report
