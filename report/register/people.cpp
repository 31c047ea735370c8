// People of the register: who they are, how they log in.
#include <sodium.h>

#include <algorithm>

#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

std::string login_of(const seal::Passphrase& passphrase) {
    const std::string_view text = passphrase.text();
    if (text.size() < seal::min_passphrase_bytes)
        stop(FaultCode::bad_value,
             "the passphrase has fewer than " + std::to_string(seal::min_passphrase_bytes) + " characters",
             "passphrase", "use a longer one, of several words");
    char out[crypto_pwhash_STRBYTES];
    if (sodium_init() < 0 ||
        crypto_pwhash_str_alg(out, text.data(), text.size(), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                              crypto_pwhash_MEMLIMIT_INTERACTIVE, crypto_pwhash_ALG_ARGON2ID13) != 0)
        stop(FaultCode::not_permitted, "no memory for checking passphrases", "passphrase");
    return out;
}

bool fits(const Person& person, const seal::Passphrase& passphrase) {
    return sodium_init() >= 0 && crypto_pwhash_str_verify(person.login.c_str(), passphrase.text().data(),
                                                          passphrase.text().size()) == 0;
}

Person person_named(Database& database, const std::string& name) {
    const auto found = row_where<Person>(database, "t.name_key = :p1", {person_key(name)});
    if (!found) stop(FaultCode::unknown_field, "the register knows no person " + in_quotes(name), "person");
    return *found;
}

Person let_in(Database& database, const std::string& name, const seal::Passphrase& passphrase) {
    Person person = person_named(database, name);
    if (person.login.empty())
        stop(FaultCode::not_permitted, in_quotes(person.name) + " has no passphrase yet", "person",
             "have one set by someone who may issue: tipwright register person change --new-passphrase");
    if (!fits(person, passphrase))
        stop(FaultCode::wrong_passphrase, "this is not the passphrase of " + in_quotes(person.name),
             "passphrase", "type it again");
    return person;
}

}  // namespace

Result<Id> Register::put_person(const Actor& actor, const Person& person,
                                const seal::Passphrase* passphrase) {
    return written(*impl_, actor, Permission::enter_first_person, [&](Writer& writer) {
        check_name("name", person.name);
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
        if (given.id != 0) given.login = row_with_id<Person>(writer.database, given.id).login;
        if (passphrase != nullptr) given.login = login_of(*passphrase);
        const bool issuer_left = (given.may_issue && given.active) ||
                                 std::any_of(others.begin(), others.end(),
                                             [](const Person& one) { return one.may_issue && one.active; });
        if (!issuer_left) stop(FaultCode::not_permitted, "nobody would be left who may issue", "person");
        return writer.put(given);
    });
}

Result<Actor> Register::log_in(const std::string& name, const std::string& now,
                               const seal::Passphrase& passphrase) {
    return answered([&] { return Actor{let_in(*impl_->database, name, passphrase).name, now}; });
}

Outcome Register::change_login(const Actor& actor, const seal::Passphrase& old_one,
                               const seal::Passphrase& new_one) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        Person person = let_in(writer.database, actor.person, old_one);
        person.login = login_of(new_one);
        store_row(writer.database, person);
        writer.log("change passphrase", "person", person.id, "{}");
        return Done{};
    });
}

Result<std::vector<Person>> Register::people() {
    return answered([&] {
        std::vector<Person> out = rows_where<Person>(*impl_->database, "ORDER BY t.name");
        for (Person& person : out) person.login.clear();
        return out;
    });
}

}  // namespace tipwright::report
