#include "bench/program/page/register_desk_class.hpp"

namespace tipwright::program {

Outcome RegisterDesk::note(const report::PageCommand& command) {
    const auto reg = opened();
    if (!reg) return reg.fault().code == FaultCode::file_missing ? Outcome(Done{}) : reg.fault();
    const auto now = desk_time();
    if (!now) return now.fault();
    // While a trial's years are entered the log's time is theirs.
    const bool years_ahead = options_.filling && options_.filling->load();
    return report::log_command(options_.location, years_ahead ? "" : *now, command);
}

Result<std::vector<page::PersonAtDoor>> RegisterDesk::persons() {
    std::vector<page::PersonAtDoor> out;
    auto reg = opened();
    if (!reg) {
        if (reg.fault().code == FaultCode::file_missing) return out;
        return reg.fault();
    }
    const auto people = (*reg)->people();
    if (!people) return people.fault();
    for (const report::Person& person : *people)
        if (person.active) out.push_back({person.name, person.passphrase != report::PassphraseState::none});
    return out;
}

Result<report::Actor> RegisterDesk::log_in(const std::string& name, const seal::Passphrase& passphrase) {
    auto reg = opened();
    if (!reg) return reg.fault();
    const auto now = desk_time();
    if (!now) return now.fault();
    const auto person = (*reg)->person(name);
    if (!person) return person.fault();
    if (!person->active)
        return Fault{FaultCode::not_permitted, in_quotes(person->name) + " is no longer active", "person",
                     ""};
    if (person->passphrase == report::PassphraseState::none) return report::Actor{person->name, *now};
    return (*reg)->log_in(person->name, *now, passphrase);
}

Result<page::Permissions> RegisterDesk::permissions(const std::string& name) {
    return with_register([&](report::Register& reg) -> Result<page::Permissions> {
        const auto person = reg.person(name);
        if (!person) return person.fault();
        return page::Permissions{person->active && person->may_measure, person->active && person->may_check,
                                 person->active && person->may_issue};
    });
}

std::string RegisterDesk::today() {
    const auto now = desk_time();
    return now ? program::today(*now) : "";
}

Result<report::Register*> RegisterDesk::opened() {
    if (!register_) {
        auto reg = open_register({options_.location, {}});
        if (!reg) return reg.fault();
        register_.emplace(std::move(*reg));
    }
    return &*register_;
}

report::ListFilter RegisterDesk::filter_of(const page::CertificateWanted& wanted) {
    report::ListFilter out;
    out.serial = wanted.serial;
    out.customer = wanted.customer;
    out.limit = wanted.most;
    return out;
}

std::unique_ptr<page::Desk> make_desk(DeskOptions options) {
    return std::make_unique<RegisterDesk>(std::move(options));
}

}  // namespace tipwright::program
