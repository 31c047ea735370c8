// Who may measure, check and issue, and their passphrases.
#include "bench/program/register/commands.hpp"
#include "bench/program/register/entry_options.hpp"
#include "bench/program/register/in_session.hpp"

namespace tipwright::program {

namespace {

struct PersonOptions {
    Session session;
    std::string name;
    bool change = false;
    std::optional<bool> may_measure, may_check, may_issue, active;
    PassphraseSource new_passphrase = {};
};

ExitCode put_person(const CommonOptions& common, const PersonOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        report::Person person;
        person.name = options.name;
        if (options.change) {
            const auto found = reg.person(options.name);
            if (!found) return refuse(common, found.fault());
            person = *found;
        }
        take(options.may_measure, person.may_measure);
        take(options.may_check, person.may_check);
        take(options.may_issue, person.may_issue);
        take(options.active, person.active);
        return say_put(common, reg.put_person(actor, person), options.change, person.name);
    });
}

ExitCode set_person_passphrase(const CommonOptions& common, const PersonOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        const std::string name = options.name.empty() ? actor.person : options.name;
        const auto person = reg.person(name);
        if (!person) return refuse(common, person.fault());
        const auto passphrase =
            read_new_passphrase(common, options.new_passphrase, "New passphrase of " + person->name);
        if (!passphrase) return refuse(common, passphrase.fault());
        if (const Outcome done = reg.set_passphrase(actor, name, *passphrase); !done)
            return refuse(common, done.fault());
        const auto after = reg.person(name);
        if (!after) return refuse(common, after.fault());
        return say(
            common,
            after->passphrase == report::PassphraseState::own
                ? after->name + " logs in with this passphrase from now on."
                : after->name +
                      " logs in with this passphrase, and must set their own before checking or issuing.",
            {{"id", after->id}});
    });
}

ExitCode list_people(const CommonOptions& common, const PersonOptions& options) {
    return table_of(common, options.session, {}, [](report::Register& reg) -> Result<report::Table> {
        const auto people = reg.people();
        if (!people) return people.fault();
        report::Table out{
            {"name", "may_measure", "may_check", "may_issue", "active", "passphrase"}, {}, false};
        const auto yes = [](bool value) { return std::string(value ? "yes" : "no"); };
        for (const auto& person : *people)
            out.rows.push_back({person.name, yes(person.may_measure), yes(person.may_check),
                                yes(person.may_issue), yes(person.active),
                                person.passphrase == report::PassphraseState::none    ? std::string("none")
                                : person.passphrase == report::PassphraseState::given ? std::string("given")
                                                                                      : std::string("own")});
        return out;
    });
}

}  // namespace

void add_people(CommandLine& line, Subcommand parent) {
    const auto group = add_group(parent, "person", "Who may measure, check and issue");
    for (const bool change : {false, true}) {
        auto put = add_verb(line, group, change ? "change" : "add",
                            change ? "Change a person" : "Enter a person", put_person);
        put->change = change;
        add_session(put.command, put->session);
        put.command.add_option("name", put->name, "Name").required();
        put.command.add_option("--may-measure", put->may_measure, "Enter records and draft certificates");
        put.command.add_option("--may-check", put->may_check, "Check the drafts of others");
        put.command.add_option("--may-issue", put->may_issue, "Issue certificates and keep this list");
        if (change) put.command.add_option("--active", put->active, "Still works here");
    }
    auto passphrase = add_verb(
        line, group, "passphrase",
        "Set your own passphrase, or give another person a first one; from then on they log in with it",
        set_person_passphrase);
    add_session(passphrase.command, passphrase->session);
    passphrase.command.add_option("name", passphrase->name, "Person (default: yourself)");
    add_passphrase(passphrase.command, passphrase->new_passphrase, "new-", "Register");
    auto list = add_verb(line, group, "list", "List the people", list_people);
    add_session(list.command, list->session, false);
}

}  // namespace tipwright::program
