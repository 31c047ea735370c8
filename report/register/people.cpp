// People of the register: who they are, how they log in.
#include <sodium.h>

#include <algorithm>

#include "calib/base/dates.hpp"
#include "report/register/dates.hpp"
#include "report/register/impl.hpp"
#include "report/register/persons.hpp"
#include "report/seal/new_passphrase.hpp"

namespace tipwright::report {
namespace {

std::string login_of(const seal::Passphrase& passphrase, const std::vector<std::string>& names) {
    must(seal::check_new_passphrase(passphrase, names));
    const std::string_view text = passphrase.text();
    char out[crypto_pwhash_STRBYTES];
    if (sodium_init() < 0 ||
        crypto_pwhash_str_alg(out, text.data(), text.size(), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                              crypto_pwhash_MEMLIMIT_INTERACTIVE, crypto_pwhash_ALG_ARGON2ID13) != 0)
        stop(FaultCode::not_permitted, "no memory for checking passphrases", "passphrase");
    return out;
}

constexpr std::string_view given_mark = "given ";  // before the passphrase that another person set

bool fits(const Person& person, const seal::Passphrase& passphrase) {
    std::string login = person.login;
    if (login.starts_with(given_mark)) login.erase(0, given_mark.size());
    return sodium_init() >= 0 &&
           crypto_pwhash_str_verify(login.c_str(), passphrase.text().data(), passphrase.text().size()) == 0;
}

Person person_named(Database& database, const std::string& name) {
    const auto found = row_where<Person>(database, "t.name_key = :p1", {person_key(name)});
    if (!found) stop(FaultCode::unknown_field, "the register knows no person " + in_quotes(name), "person");
    return *found;
}

Person shown(Person person) {
    person.passphrase = passphrase_state(person);
    person.login.clear();
    return person;
}

constexpr const char* wrong_action = "wrong passphrase";
constexpr std::int64_t entries_looked_at = 1000;

// Of this person, lately.
int wrong_logins(Database& database, Id person, const std::string& now) {
    const AuditHead head = read_audit_head(database);
    const std::int64_t time = second_number(now);
    int out = 0;
    each_row<AuditEntry>(database, "WHERE t.seq > :p1 AND t.action = :p2 AND t.subject_id = :p3",
                         {head.seq - entries_looked_at, std::string(wrong_action), person},
                         [&](const AuditEntry& entry) {
                             // A time ahead of this one was a clock's that was set right since.
                             const std::int64_t at = second_number(entry.at);
                             if (at > time - wrong_logins_s && at <= time + clock_tolerance_s) ++out;
                         });
    return out;
}

}  // namespace

PassphraseState passphrase_state(const Person& person) {
    if (person.login.empty()) return PassphraseState::none;
    return person.login.starts_with(given_mark) ? PassphraseState::given : PassphraseState::own;
}

bool logins_in_use(Database& database) {
    return database.row("SELECT count(*) FROM people WHERE login <> ''", "i")->integer(0) != 0;
}

std::string login_detail(const Actor& actor) {
    return Detail().text("known_by", actor.logged_in ? "passphrase" : "name").json();
}

Result<Id> Register::put_person(const Actor& actor, const Person& person) {
    return written(*impl_, actor, Permission::enter_first_person, [&](Writer& writer) {
        check_name("name", person.name);
        // Whoever was entered under a name that is refused now keeps it.
        const bool kept =
            person.id != 0 && row_with_id<Person>(writer.database, person.id).name == person.name;
        if (!kept)
            if (const std::optional<Fault> unreadable = unreadable_name(person.name)) throw Stop{*unreadable};
        Person given = person;
        if (writer.person == 0) {  // the first one
            if (person_key(given.name) != person_key(actor.person))
                stop(FaultCode::not_permitted, "the first person of a register enters themselves", "person");
            given.may_issue = true;
        }
        const std::vector<Person> others =
            rows_where<Person>(writer.database, "WHERE t.id <> :p1 ORDER BY t.id", {given.id});
        for (const Person& other : others)
            if (looks_like(other.name, given.name))
                stop(FaultCode::duplicate,
                     "the register has a person " + in_quotes(other.name) +
                         (person_key(other.name) == person_key(given.name)
                              ? " already"
                              : ", and " + in_quotes(given.name) + " looks the same"),
                     "person");
        given.login = given.id != 0 ? row_with_id<Person>(writer.database, given.id).login : std::string();
        const bool issuer_left = (given.may_issue && given.active) ||
                                 std::any_of(others.begin(), others.end(),
                                             [](const Person& one) { return one.may_issue && one.active; });
        if (!issuer_left) stop(FaultCode::not_permitted, "nobody would be left who may issue", "person");
        return writer.put(given);
    });
}

Result<Actor> Register::log_in(const std::string& name, const std::string& now,
                               const seal::Passphrase& passphrase) {
    return answered([&] {
        if (!is_utc_time(now)) stop(FaultCode::bad_value, in_quotes(now) + " is not a UTC time", "now");
        const Person person = person_named(*impl_->database, name);
        if (!person.active)
            stop(FaultCode::not_permitted, in_quotes(person.name) + " is no longer active in the register",
                 "person");
        must_be_as_logged<Person>(*impl_->database, person.id);
        if (person.login.empty())
            stop(FaultCode::not_permitted, in_quotes(person.name) + " has no passphrase yet", "person",
                 "have one given by someone who may issue: tipwright register person passphrase NAME");
        // Counted, tried and noted under one lock: of many tried at once each sees those before it. A clock
        // that is behind tries at the log's own time: whoever accepts it (accept_clock) logs in for that.
        const std::string moment = std::max(now, read_audit_head(*impl_->database).at);
        Writer writer(*impl_, {person.name, moment}, Permission::log_in);
        if (wrong_logins(writer.database, person.id, moment) >= wrong_logins_allowed)
            stop(FaultCode::not_permitted,
                 std::to_string(wrong_logins_allowed) + " wrong passphrases of " + in_quotes(person.name) +
                     " within " + std::to_string(wrong_logins_s / 60) + " minutes",
                 "passphrase", "wait " + std::to_string(wrong_logins_s / 60) + " minutes");
        if (fits(person, passphrase)) return Actor{person.name, now, true};
        writer.log(wrong_action, "person", person.id, "{}");
        writer.commit();
        stop(FaultCode::wrong_passphrase, "this is not the passphrase of " + in_quotes(person.name),
             "passphrase", "type it again");
    });
}

Outcome Register::set_passphrase(const Actor& actor, const std::string& name,
                                 const seal::Passphrase& passphrase) {
    return answered([&] {
        const std::string login = login_of(passphrase, {name, actor.person});  // slow, so before others wait
        const bool own = person_key(name) == person_key(actor.person);
        Writer writer(*impl_, actor, own ? Permission::any : Permission::issue);
        Person person = person_named(writer.database, name);
        if (own && person.login.empty() && logins_in_use(writer.database))
            stop(FaultCode::not_permitted,
                 "the first passphrase of " + in_quotes(person.name) + " is given by someone who may issue",
                 "person", "then it can be changed");
        if (own && person.login.empty() && !person.may_issue)
            stop(FaultCode::not_permitted,
                 "the first passphrase of a register is set by someone who may issue, for themselves",
                 "person");
        if (!own && !logins_in_use(writer.database))
            stop(FaultCode::not_permitted, "set your own passphrase first: this register has none yet",
                 "person", "tipwright register person passphrase");
        person.login = own ? login : std::string(given_mark) + login;
        writer.change(person);
        writer.log(own ? "set passphrase" : "give passphrase", "person", person.id, "{}");
        writer.commit();
        return Done{};
    });
}

Result<Person> Register::person(const std::string& name) {
    return answered([&] { return shown(person_named(*impl_->database, name)); });
}

Result<std::vector<Person>> Register::people() {
    return answered([&] {
        std::vector<Person> out = rows_where<Person>(*impl_->database, "ORDER BY t.name");
        for (Person& person : out) person = shown(std::move(person));
        return out;
    });
}

}  // namespace tipwright::report
