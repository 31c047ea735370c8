#include "bench/program/options/verb.hpp"
#include "bench/program/register/keys.hpp"
#include "bench/program/register/maintenance.hpp"
#include "bench/program/register/signing_certificate.hpp"

namespace tipwright::program {

namespace {

void add_keeping(CommandLine& line, CLI::App& group) {
    auto create = add_verb(line, group, "create", "Make a register; whoever makes it may do everything in it",
                           create_register);
    add_session(create.command, create->session);
    create.command.add_flag("--logins", create->logins,
                            "Set your passphrase at once: nobody checks or issues without one");
    add_passphrase(create.command, create->new_passphrase, "new-", "Register");

    auto check = add_verb(line, group, "check",
                          "Check database, log, numbers, documents and seals of a register", check_register);
    add_session(check.command, check->session, false);
    check.command.add_option("--public-keys", check->keys, "Public keys, to check the seals too")
        ->envname("TIPWRIGHT_KEYS")
        ->type_name("FILE");

    auto seal =
        add_verb(line, group, "seal",
                 "Seal the log as it stands: once a day, between issues, which seal it too", seal_register);
    add_session(seal.command, seal->session);
    add_keys_folder(seal.command, seal->keys);
    add_passphrase(seal.command, seal->passphrase);

    auto backup = add_verb(line, group, "backup",
                           "Back up to a folder while others work; later backups copy only what is new",
                           backup_register);
    add_session(backup.command, backup->session, false);
    backup.command.add_option("folder", backup->folder, "Folder of the backup")->required()->type_name("DIR");

    auto restore = add_verb(line, group, "restore",
                            "Make a new register at --register from a backup, checked before and after",
                            restore_register);
    add_session(restore.command, restore->session, false);
    restore.command.add_option("folder", restore->folder, "Folder of the backup")
        ->required()
        ->type_name("DIR");

    auto tidy = add_verb(line, group, "tidy",
                         "Remove documents that a crash left behind and no entry refers to", tidy_register);
    add_session(tidy.command, tidy->session);

    auto log = add_verb(line, group, "log",
                        "Show the latest entries of the audit log: who did what, and when", show_log);
    add_session(log.command, log->session, false);
    log.command.add_option("--last", log->last, "How many")
        ->check(CLI::Range(1, 1000000))
        ->capture_default_str();

    auto clock = add_verb(line, group, "accept-clock",
                          "Accept an earlier time after a clock that ran ahead was corrected", accept_clock);
    add_session(clock.command, clock->session);
    clock.command.add_option("--reason", clock->why, "What happened")->required()->type_name("TEXT");
}

void add_signing_certificate(CommandLine& line, CLI::App& keys) {
    auto& group =
        add_group(keys, "certificate",
                  "X.509 certificate that signs PDF and XML beside the seal: make a trial's, import, show");
    auto make = add_verb(line, group, "make",
                         "Make a self-made certificate, for trials: no reader trusts it by itself",
                         make_signing_certificate);
    make.command.add_option("--name", make->wish.name, "Who signs: the laboratory")
        ->required()
        ->type_name("NAME");
    make.command.add_option("--organisation", make->wish.organisation, "Its organisation")->type_name("NAME");
    make.command.add_option("--country", make->wish.country, "Its country")->type_name("CC");
    make.command.add_option("--years", make->wish.years, "Valid for")
        ->check(CLI::Range(1, 30))
        ->capture_default_str();

    auto import = add_verb(line, group, "import", "Take over a certificate with its key from a PKCS#12 file",
                           import_signing_certificate);
    import.command.add_option("file", import->file, "As its issuer gave it")
        ->required()
        ->type_name("FILE.p12");
    add_passphrase(import.command, import->file_passphrase, "p12-");

    for (auto* verb : {&make, &import}) {
        verb->command.add_flag("--replace", (*verb)->replace, "In place of the one there is");
        add_keys_folder(verb->command, (*verb)->folder);
        add_passphrase(verb->command, (*verb)->passphrase);
    }
    auto show_it = add_verb(line, group, "show", "What it says", show_signing_certificate);
    add_keys_folder(show_it.command, show_it->folder);
    auto hand_out = add_verb(line, group, "export", "Write it to a file (PEM) for who is to trust it",
                             export_signing_certificate);
    add_keys_folder(hand_out.command, hand_out->folder);
    hand_out.command.add_option("--out", hand_out->out, "File to write")->required()->type_name("FILE.pem");
}

void add_keys_group(CommandLine& line) {
    auto& group =
        add_group(line.app, "keys", "Keys of the seal: make, list, rotate, revoke, hand out the public ones");
    auto make = add_verb(line, group, "make", "Make the laboratory's first key", make_keys);
    add_keys_folder(make.command, make->folder);
    add_passphrase(make.command, make->passphrase);

    auto list = add_verb(line, group, "list", "List the keys, oldest first; the last one seals", list_keys);
    add_keys_folder(list.command, list->folder);

    auto rotate = add_verb(
        line, group, "rotate",
        "Make a new key, signed by the present one; earlier certificates can still be verified", rotate_keys);
    add_keys_folder(rotate.command, rotate->folder);
    add_passphrase(rotate.command, rotate->passphrase);
    add_passphrase(rotate.command, rotate->new_passphrase, "new-");

    auto revoke = add_verb(line, group, "revoke",
                           "Others may have a key: nothing counts that it sealed from a day on. Rotate first",
                           revoke_key);
    add_keys_folder(revoke.command, revoke->folder);
    add_passphrase(revoke.command, revoke->passphrase);
    revoke.command.add_option("key", revoke->key, "Its id, as 'keys list' shows it")
        ->required()
        ->type_name("KEY");
    revoke.command.add_option("--from", revoke->from, "First day that does not count (default: today)")
        ->type_name("DATE");
    revoke.command.add_option("--reason", revoke->why, "What happened, for who checks certificates")
        ->required()
        ->type_name("TEXT");

    auto change = add_verb(line, group, "passphrase", "Change the passphrase of the keys", change_passphrase);
    add_keys_folder(change.command, change->folder);
    add_passphrase(change.command, change->passphrase);
    add_passphrase(change.command, change->new_passphrase, "new-");

    auto hand_out =
        add_verb(line, group, "export", "Write the public keys to a file for those who verify certificates",
                 export_keys);
    add_keys_folder(hand_out.command, hand_out->folder);
    hand_out.command.add_option("--out", hand_out->out, "File to write")->required()->type_name("FILE");
    add_signing_certificate(line, group);
}

void add_owner(CLI::App& command, report::ListFilter& filter) {
    command.add_option("--customer", filter.customer, "Only of this customer")->type_name("NAME");
    command.add_option("--station", filter.station, "Only of this station of the customer")
        ->type_name("NAME");
}

void add_ask_group(CommandLine& line) {
    auto& group = add_group(line.app, "ask", "Ask the register: what is due, recall, drift, tolerance, work");
    auto due = add_verb(line, group, "due",
                        "List gauges that are due, by the interval agreed with their customer", ask_due);
    add_session(due.command, due->session, false);
    add_owner(due.command, due->filter);
    due.command.add_option("--from", due->filter.from_month, "From this month")->type_name("YYYY-MM");
    due.command.add_option("--to", due->filter.to_month, "To this month, included")->type_name("YYYY-MM");
    due.command.add_option("--limit", due->filter.limit, "Most rows")->capture_default_str();
    add_csv(due.command, due->csv);

    auto recall = add_verb(line, group, "recall",
                           "List certificates that relied on an instrument between two dates", ask_recall);
    add_session(recall.command, recall->session, false);
    recall->filter.limit = 100000;
    recall.command.add_option("instrument", recall->instrument, "Its serial number")
        ->required()
        ->type_name("SERIAL");
    recall.command.add_option("--role", recall->role, "Where two share a serial number: balance, pump, ...");
    recall.command.add_option("--from", recall->from, "First date")->required()->type_name("DATE");
    recall.command.add_option("--to", recall->to, "Last date")->required()->type_name("DATE");
    recall.command.add_option("--limit", recall->filter.limit, "Most rows")->capture_default_str();
    add_csv(recall.command, recall->csv);

    auto drift =
        add_verb(line, group, "drift",
                 "List gauges whose error drifted by more than a percentage within some years", ask_drift);
    add_session(drift.command, drift->session, false);
    drift.command.add_option("--kind", drift->kind, "Only of this kind")->type_name("KIND");
    drift.command.add_option("--percent", drift->percent, "More than this")->capture_default_str();
    drift.command.add_option("--years", drift->years, "In this many years")->capture_default_str();
    add_csv(drift.command, drift->csv);

    auto tolerance =
        add_verb(line, group, "tolerance",
                 "Show the share of gauges found within their limits, by kind and age", ask_tolerance);
    add_session(tolerance.command, tolerance->session, false);
    tolerance.command.add_option("--kind", tolerance->kind, "Only of this kind")->type_name("KIND");
    add_csv(tolerance.command, tolerance->csv);

    auto work = add_verb(line, group, "work", "List drafts that wait to be checked or issued", ask_work);
    add_session(work.command, work->session, false);
    add_csv(work.command, work->csv);
}

void add_life(CommandLine& line) {
    auto life = add_verb(line, line.app, "life", "Show a gauge's history on one page, by its serial number",
                         show_life);
    add_session(life.command, life->session, false);
    life.command
        .add_option("serial", life->serial,
                    "Serial number; left out: one a line from standard input, as a scanner types them")
        ->type_name("SERIAL");
}

void add_pack(CommandLine& line) {
    auto pack = add_verb(
        line, line.app, "pack",
        "Collect certificates, DCCs, records, corrections and seals of a station in one pack", make_pack);
    add_session(pack.command, pack->session, false);
    pack.command.add_option("certificates", pack->numbers, "Numbers; left out: of all gauges of --station")
        ->type_name("NUMBER");
    pack.command.add_option("--serial", pack->owner.serial, "The last certificate of this gauge")
        ->type_name("SERIAL");
    add_owner(pack.command, pack->owner);
    pack.command.add_flag("--each-station", pack->each_station,
                          "A zip for each station of the customer, in the folder --out");
    pack.command.add_option("--out", pack->out, "New folder, or a name that ends in .zip")
        ->required()
        ->type_name("DIR|FILE.zip");
}

}  // namespace

void add_register_group(CommandLine& line) {
    auto& group = add_group(
        line.app, "register",
        "Gauges, customers, instruments, service and their history; keep, check, back up the register");
    add_keeping(line, group);
    add_things(line, group);
}

void add_register_commands(CommandLine& line) {
    add_register_group(line);
    add_certificate_group(line);
    add_keys_group(line);
    add_life(line);
    add_ask_group(line);
    add_pack(line);
}

}  // namespace tipwright::program
