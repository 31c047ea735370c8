#include "bench/program/register/keys.hpp"

#include "bench/program/overwrite.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/register/signing_certificate.hpp"
#include "bench/program/settings/settings.hpp"
#include "report/files/files.hpp"
#include "report/register/numbers_beside_keys.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::program {

std::filesystem::path issued_numbers_file(const std::filesystem::path& folder) {
    return folder / "issued-numbers.txt";
}

std::filesystem::path keys_folder(const std::filesystem::path& given) {
    if (!given.empty()) return given;
    // A list of public keys alone may be named there for whoever only verifies.
    const auto settings = Settings::load();
    const std::filesystem::path named = settings ? settings->value_or("keys", "") : "";
    std::error_code ignored;
    return named.empty() || std::filesystem::is_regular_file(named, ignored) ? data_folder("keys") : named;
}

Outcome keys_are_there(const std::filesystem::path& given) {
    std::error_code ignored;
    const std::filesystem::path folder = keys_folder(given);
    if (std::filesystem::exists(folder / seal::public_keys_name, ignored)) return Done{};
    return Fault{FaultCode::file_missing, "there are no keys of the seal here", folder.string(),
                 "make them with 'tipwright keys make', or name their folder with --keys"};
}

namespace {

struct KeysOptions {
    std::filesystem::path folder;  // empty: the user's own
    PassphraseSource passphrase;
    PassphraseSource new_passphrase;
    std::filesystem::path out;
    std::string key;   // to revoke
    std::string from;  // ISO date; empty: today
    std::string why;
};

std::string list_file(const KeysOptions& options) {
    return (keys_folder(options.folder) / seal::public_keys_name).string();
}

std::string numbers_file(const KeysOptions& options) {
    return issued_numbers_file(keys_folder(options.folder)).string();
}

ExitCode say_key(const CommonOptions& common, const std::string& what, const seal::PublicKey& key,
                 const KeysOptions& options) {
    return say(common, what + " " + key.id + ".\nFor those who check certificates: " + list_file(options),
               {{"key", key.id}, {"public_keys", list_file(options)}});
}

// The X.509 key stays under the passphrase of the key in use.
Outcome relock(const KeysOptions& options, const std::optional<seal::X509Key>& key,
               const seal::Passphrase& passphrase) {
    return key ? store_signing_certificate(keys_folder(options.folder), *key, passphrase) : Outcome(Done{});
}

ExitCode make_keys(const CommonOptions& common, const KeysOptions& options) {
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    const auto passphrase = read_new_passphrase(common, options.passphrase, "New passphrase");
    if (!passphrase) return refuse(common, passphrase.fault());
    const auto key = seal::make_keys(keys_folder(options.folder).string(), *passphrase, today(*now));
    if (!key) return refuse(common, key.fault());
    // From the beginning, so that a missing list of numbers given is never ordinary.
    const auto unlocked = seal::unlock_key(keys_folder(options.folder).string(), *passphrase);
    if (!unlocked) return refuse(common, unlocked.fault());
    if (const Outcome begun = report::begin_numbers(numbers_file(options), *unlocked, today(*now)); !begun)
        return refuse(common, begun.fault());
    return say_key(common, "Made key", *key, options);
}

ExitCode list_keys(const CommonOptions& common, const KeysOptions& options) {
    if (auto there = keys_are_there(options.folder); !there) return refuse(common, there.fault());
    const auto keys = seal::PublicKeys::read(list_file(options));
    if (!keys) return refuse(common, keys.fault());
    report::Table table{{"key", "made_on", "retired_on", "vouched_for_by", "revoked_from", "why"}, {}, false};
    for (const auto& key : keys->all())
        table.rows.push_back(
            {key.id, key.made_on, key.retired_on, key.vouched_by, key.revoked_from, key.revoked_why});
    return show(common, table);
}

ExitCode rotate_keys(const CommonOptions& common, const KeysOptions& options) {
    if (auto there = keys_are_there(options.folder); !there) return refuse(common, there.fault());
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    const auto old_one = read_passphrase(options.passphrase, "Passphrase of the key in use");
    if (!old_one) return refuse(common, old_one.fault());
    const auto new_one = read_new_passphrase(common, options.new_passphrase, "Passphrase of the new key");
    if (!new_one) return refuse(common, new_one.fault());
    const auto x509 = open_signing_certificate(keys_folder(options.folder), *old_one);
    if (!x509) return refuse(common, x509.fault());
    // Signed with the new key after it: the old one may be revoked. One that is not whole stays as it is, and
    // is told when numbers are to be given.
    const auto numbers = report::NumbersBesideKeys::read(numbers_file(options));
    const auto key = seal::rotate_keys(keys_folder(options.folder).string(), *old_one, *new_one, today(*now));
    if (!key) return refuse(common, key.fault());
    if (numbers) {
        const auto unlocked = seal::unlock_key(keys_folder(options.folder).string(), *new_one);
        if (!unlocked) return refuse(common, unlocked.fault());
        if (const Outcome signed_anew = numbers->sign(*unlocked, today(*now)); !signed_anew)
            return refuse(common, signed_anew.fault());
    }
    if (auto locked = relock(options, *x509, *new_one); !locked) return refuse(common, locked.fault());
    return say_key(common, "Key in use from now on:", *key, options);
}

ExitCode revoke_key(const CommonOptions& common, const KeysOptions& options) {
    if (auto there = keys_are_there(options.folder); !there) return refuse(common, there.fault());
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    const auto passphrase = read_passphrase(options.passphrase, "Passphrase of the key in use");
    if (!passphrase) return refuse(common, passphrase.fault());
    const std::string from = options.from.empty() ? today(*now) : options.from;
    if (auto done = seal::revoke_key(keys_folder(options.folder).string(), options.key, *passphrase, from,
                                     options.why);
        !done)
        return refuse(common, done.fault());
    return say(common,
               "From now on nothing counts that key " + options.key + " sealed on " + from +
                   " or later.\nGive the new list to all who check certificates: " + list_file(options),
               {{"key", options.key}, {"revoked_from", from}, {"public_keys", list_file(options)}});
}

ExitCode change_passphrase(const CommonOptions& common, const KeysOptions& options) {
    if (auto there = keys_are_there(options.folder); !there) return refuse(common, there.fault());
    const auto old_one = read_passphrase(options.passphrase, "Passphrase");
    if (!old_one) return refuse(common, old_one.fault());
    const auto new_one = read_new_passphrase(common, options.new_passphrase, "New passphrase");
    if (!new_one) return refuse(common, new_one.fault());
    const auto x509 = open_signing_certificate(keys_folder(options.folder), *old_one);
    if (!x509) return refuse(common, x509.fault());
    if (auto done = seal::change_passphrase(keys_folder(options.folder).string(), *old_one, *new_one); !done)
        return refuse(common, done.fault());
    if (auto locked = relock(options, *x509, *new_one); !locked) return refuse(common, locked.fault());
    return say(common, "The passphrase was changed.");
}

ExitCode export_keys(const CommonOptions& common, const KeysOptions& options) {
    if (auto there = keys_are_there(options.folder); !there) return refuse(common, there.fault());
    const auto keys = seal::PublicKeys::read(list_file(options));
    if (!keys) return refuse(common, keys.fault());
    const auto text = read_file(list_file(options));
    if (!text) return refuse(common, text.fault());
    if (auto written = write_file(options.out, *text); !written) return refuse(common, written.fault());
    const std::size_t count = keys->all().size();
    return say(common,
               "Wrote " + std::to_string(count) + (count == 1 ? " public key" : " public keys") + " to " +
                   options.out.string() +
                   ". Give this file to those who check certificates, in a way they trust.",
               {{"keys", static_cast<std::int64_t>(count)}, {"file", options.out.string()}});
}

}  // namespace

void add_keys_group(CommandLine& line) {
    const auto group = add_group(
        line.app, "keys", "Make, list, rotate and revoke the keys of the seal; export the public ones");
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
                           "Revoke a key that others may have: what it sealed from a given day on no longer "
                           "counts. Rotate first",
                           revoke_key);
    add_keys_folder(revoke.command, revoke->folder);
    add_passphrase(revoke.command, revoke->passphrase);
    revoke.command.add_option("key", revoke->key, "Its id, as 'keys list' shows it")
        .required()
        .type_name("KEY");
    revoke.command.add_option("--from", revoke->from, "First day that does not count (default: today)")
        .type_name("DATE");
    revoke.command.add_option("--reason", revoke->why, "What happened, for those who verify certificates")
        .required()
        .type_name("TEXT");

    auto change = add_verb(line, group, "passphrase", "Change the passphrase of the keys", change_passphrase);
    add_keys_folder(change.command, change->folder);
    add_passphrase(change.command, change->passphrase);
    add_passphrase(change.command, change->new_passphrase, "new-");

    auto hand_out =
        add_verb(line, group, "export", "Write the public keys to a file for those who verify certificates",
                 export_keys);
    add_keys_folder(hand_out.command, hand_out->folder);
    hand_out.command.add_option("--out", hand_out->out, "File to write").required().type_name("FILE");
    add_force(hand_out.command, hand_out->out);
    add_signing_certificate(line, group);
}

}  // namespace tipwright::program
