#include "bench/program/register/maintenance.hpp"

#include <cstdio>
#include <nlohmann/json.hpp>
#include <optional>

#include "bench/program/register/commands.hpp"
#include "bench/program/register/in_session.hpp"
#include "bench/program/register/keys.hpp"
#include "bench/program/register/public_keys.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/terminal.hpp"
#include "report/seal/new_passphrase.hpp"

namespace tipwright::program {

std::string inspection_sentences(const report::InspectionReport& report) {
    const auto number = [](std::int64_t value) { return std::to_string(value); };
    std::string out = number(report.audit_entries) + " log entries, " + number(report.certificates) +
                      " certificates, " + number(report.documents) + " documents: " +
                      (report.faults.empty() ? "all as it should be" : "not as it should be") + ".";
    if (report.sealed_entries > 0)
        out += " The laboratory sealed the log up to entry " + number(report.sealed_entries) + " on " +
               report.sealed_at + "; " + number(report.audit_entries - report.sealed_entries) +
               " entries since then are not sealed yet.";
    if (report.certificates > 0)
        out += " " + number(report.checked_by_login) + " of " + number(report.certificates) +
               " certificates were checked by a second person who had logged in with a passphrase.";
    for (const std::string& accepted : report.accepted) out += " Still reported: " + accepted + ".";
    return out;
}

namespace {

struct MaintenanceOptions {
    Session session;
    std::filesystem::path folder;  // of a backup
    std::filesystem::path keys;    // public keys: a file, or the folder of keys
    std::string why;
    std::string as_it_stands;  // why a log that was changed is sealed
    std::size_t last = 30;
    bool logins = false;                   // whoever makes the register sets a passphrase
    PassphraseSource passphrase = {};      // of the seal
    PassphraseSource new_passphrase = {};  // of whoever makes the register
};

Fault there_already() {
    return {FaultCode::duplicate, "there is a register already", "register", "use it as it is"};
}

ExitCode create_register(const CommonOptions& common, const MaintenanceOptions& options) {
    const auto actor = actor_of(options.session);
    if (!actor) return refuse(common, actor.fault());
    // Asked before one is made: what is refused leaves none behind.
    if (auto there = open_register_to_read(options.session); there)
        if (const auto people = there->people(); people && !people->empty())
            return refuse(common, there_already());
    std::optional<seal::Passphrase> passphrase;
    if (options.logins) {
        auto read = read_new_passphrase(common, options.new_passphrase, "New passphrase of " + actor->person);
        if (!read) return refuse(common, read.fault());
        if (const Outcome good = seal::check_new_passphrase(*read, {actor->person}); !good)
            return refuse(common, good.fault());
        passphrase.emplace(std::move(*read));
    }
    auto reg = open_register(options.session, true);
    if (!reg) return refuse(common, reg.fault());
    const auto people = reg->people();
    if (!people) return refuse(common, people.fault());
    if (!people->empty()) return refuse(common, there_already());
    const auto id = reg->put_person(*actor, {0, actor->person, true, true, true, true});
    if (!id) return refuse(common, id.fault());
    if (passphrase)
        if (const Outcome done = reg->set_passphrase(*actor, actor->person, *passphrase); !done)
            return refuse(common, done.fault());
    return say(common,
               "Made the register; " + actor->person + " may measure, check and issue." +
                   (passphrase ? " Nobody checks or issues in it without a passphrase." : ""),
               {{"person", *id}});
}

// Where secret keys lie it is noted which numbers were given; empty: these are public keys alone.
std::string issued_numbers_beside(const std::filesystem::path& keys) {
    std::error_code error;
    const std::filesystem::path folder = keys.empty()                                 ? keys_folder({})
                                         : std::filesystem::is_directory(keys, error) ? keys
                                                                                      : keys.parent_path();
    const std::filesystem::path file = issued_numbers_file(folder);
    if (std::filesystem::exists(file, error)) return file.string();
    for (std::filesystem::directory_iterator one(folder, error), end; !error && one != end;
         one.increment(error))
        if (one->path().extension() == ".key") return file.string();
    return {};
}

ExitCode seal_register(const CommonOptions& common, const MaintenanceOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        if (auto there = keys_are_there(options.keys); !there) return refuse(common, there.fault());
        const auto passphrase = read_passphrase(options.passphrase, "Passphrase of the seal");
        if (!passphrase) return refuse(common, passphrase.fault());
        const auto folder = keys_folder(options.keys);
        const auto key = seal::unlock_key(folder.string(), *passphrase);
        if (!key) return refuse(common, key.fault());
        report::SealingWords words;
        words.numbers_anew = options.why;
        words.as_it_stands = options.as_it_stands;
        words.warn = [](const std::string& text) {
            print_to(stderr, "tipwright: warning: %s\n", text.c_str());
        };
        if (const Outcome done = reg.seal_log(actor, *key, issued_numbers_file(folder).string(), words);
            !done)
            return refuse(common, done.fault());
        return say(common,
                   options.why.empty()
                       ? "Sealed the register's log."
                       : "Sealed the register's log, and noted beside the keys which numbers it gave. "
                         "Seal each other register of these keys now, before anything is issued.");
    });
}

ExitCode check_register(const CommonOptions& common, const MaintenanceOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    const auto keys = find_public_keys(options.keys);
    if (!keys) return refuse(common, keys.fault());
    const auto report = reg->inspect(*keys ? &**keys : nullptr, issued_numbers_beside(options.keys));
    if (!report) return refuse(common, report.fault());
    const bool whole = report->faults.empty();
    if (common.json) {
        nlohmann::ordered_json document = {{"ok", whole},
                                           {"audit_entries", report->audit_entries},
                                           {"audit_head", report->audit_head},
                                           {"certificates", report->certificates},
                                           {"documents", report->documents},
                                           {"documents_named_by_nothing", report->stray_documents},
                                           {"seals_checked", keys->has_value()},
                                           {"sealed_entries", report->sealed_entries},
                                           {"sealed_at", report->sealed_at},
                                           {"checked_by_login", report->checked_by_login},
                                           {"stays_told", report->accepted},
                                           {"faults", nlohmann::ordered_json::array()}};
        for (const Fault& fault : report->faults)
            document["faults"].push_back({{"code", name_of(fault.code)}, {"line", fault.line()}});
        print_json(document);
        return whole ? ExitCode::done : ExitCode::disagrees;
    }
    for (const Fault& fault : report->faults) print_to(stdout, "WRONG  %s\n", fault.line().c_str());
    print_to(stdout, "%s\n", inspection_sentences(*report).c_str());
    if (!*keys) print_to(stdout, "Seals were not checked: no public keys; give --public-keys.\n");
    if (report->stray_documents > 0)
        print_to(stdout,
                 "%lld documents were left behind by a crash, and no entry refers to them; 'tipwright "
                 "register tidy' removes them.\n",
                 static_cast<long long>(report->stray_documents));
    print_to(stdout, "Head of the log: %s\n", report->audit_head.c_str());
    return whole ? ExitCode::done : ExitCode::disagrees;
}

ExitCode backup_register(const CommonOptions& common, const MaintenanceOptions& options) {
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    if (const Outcome done = reg->backup(options.folder.string(), *now); !done)
        return refuse(common, done.fault());
    return say(common, "Backed up to " + options.folder.string() + ".",
               {{"folder", options.folder.string()}});
}

ExitCode restore_register(const CommonOptions& common, const MaintenanceOptions& options) {
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    const std::string location =
        options.session.location.empty() ? data_folder("register").string() : options.session.location;
    const Outcome done = report::Register::restore(options.folder.string(), location, *now);
    if (!done) return refuse(common, done.fault());
    return say(common, "Restored from " + options.folder.string() + "; everything in it was checked.",
               {{"folder", options.folder.string()}});
}

ExitCode tidy_register(const CommonOptions& common, const MaintenanceOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        if (const Outcome done = reg.tidy(actor); !done) return refuse(common, done.fault());
        return say(common, "Removed documents that no entry refers to.");
    });
}

ExitCode show_log(const CommonOptions& common, const MaintenanceOptions& options) {
    return table_of(common, options.session, {},
                    [&](report::Register& reg) { return reg.audit_log(options.last); });
}

ExitCode accept_clock(const CommonOptions& common, const MaintenanceOptions& options) {
    return in_session(common, options.session, [&](report::Register& reg, const report::Actor& actor) {
        if (const Outcome done = reg.accept_clock(actor, options.why); !done)
            return refuse(common, done.fault());
        return say(common, "The register continues at " + actor.now + ".");
    });
}

void add_maintenance(CommandLine& line, Subcommand group) {
    auto create = add_verb(line, group, "create", "Make a register; whoever makes it may do everything in it",
                           create_register);
    add_session(create.command, create->session);
    create.command.add_flag("--logins", create->logins,
                            "Set your passphrase at once: nobody checks or issues without one");
    add_passphrase(create.command, create->new_passphrase, "new-", "Register");

    auto check = add_verb(line, group, "check",
                          "Check database, log, numbers, documents and seals of a register", check_register);
    add_session(check.command, check->session, false);
    check.command
        .add_option("--public-keys", check->keys,
                    "Public keys, to check the seals too: a file, or a folder of keys")
        .environment("TIPWRIGHT_KEYS")
        .type_name("FILE");

    auto seal = add_verb(line, group, "seal",
                         "Seal the log as it stands: once a day; each issue seals it too", seal_register);
    add_session(seal.command, seal->session);
    add_keys_folder(seal.command, seal->keys);
    add_passphrase(seal.command, seal->passphrase);
    seal.command
        .add_option("--numbers-anew", seal->why,
                    "Rebuild the list of issued numbers beside the keys from this register, and say why it "
                    "is lost or damaged; numbers that the register does not know are given again")
        .type_name("REASON");
    seal.command
        .add_option("--as-it-stands", seal->as_it_stands,
                    "Seal a log even though it was changed outside the program, and say why; every later "
                    "check reports what is wrong, and the reason")
        .type_name("REASON");

    auto backup = add_verb(line, group, "backup",
                           "Back up to a folder while others work; later backups copy only what is new",
                           backup_register);
    add_session(backup.command, backup->session, false);
    backup.command.add_option("folder", backup->folder, "Folder of the backup").required().type_name("DIR");

    auto restore = add_verb(line, group, "restore",
                            "Make a new register at --register from a backup, checked before and after",
                            restore_register);
    add_session(restore.command, restore->session, false);
    restore.command.add_option("folder", restore->folder, "Folder of the backup").required().type_name("DIR");

    auto tidy = add_verb(line, group, "tidy",
                         "Remove documents that a crash left behind and no entry refers to", tidy_register);
    add_session(tidy.command, tidy->session);

    auto log = add_verb(line, group, "log",
                        "Show the latest entries of the audit log: who did what, and when", show_log);
    add_session(log.command, log->session, false);
    log.command.add_option("--last", log->last, "Number of entries").in_range(1, 1000000).show_default();

    auto clock = add_verb(line, group, "accept-clock",
                          "Accept an earlier time after a clock that ran ahead was corrected", accept_clock);
    add_session(clock.command, clock->session);
    clock.command.add_option("--reason", clock->why, "What happened").required().type_name("TEXT");
}

}  // namespace

void add_register_group(CommandLine& line) {
    const auto group =
        add_group(line.app, "register",
                  "Keep gauges, customers, instruments, service and history; check and back up the register");
    add_maintenance(line, group);
    add_people(line, group);
    add_customers(line, group);
    add_stations(line, group);
    add_gauges(line, group);
    add_instruments(line, group);
    add_service(line, group);
}

}  // namespace tipwright::program
