#include "report/seal/keys.hpp"

#include <sodium.h>

#include <algorithm>
#include <cstring>
#include <stdexcept>
#include <utility>

#include "calib/base/dates.hpp"
#include "calib/base/format_version.hpp"
#include "report/files/files.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/file_lock.hpp"
#include "report/seal/key_file.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::seal {
namespace {

constexpr std::size_t max_list_bytes = 1 << 20;
constexpr FormatVersion newest_list{1, 0};
constexpr std::string_view list_heading = "tipwright public keys ";
constexpr std::size_t max_why_bytes = 200;

template <std::size_t N>
std::string_view view(const std::array<unsigned char, N>& bytes) {
    return {reinterpret_cast<const char*>(bytes.data()), N};
}

std::string id_of(const std::array<unsigned char, 32>& key) {
    return sha256_hex(view(key)).substr(0, 16);
}

// What the key before it signs for its successor.
std::string vouching(const PublicKey& key) {
    return "tipwright key succession 1\nkey " + key.id + " " + to_hex(view(key.bytes)) + " made " +
           key.made_on + "\nafter " + key.vouched_by + "\n";
}

// What a later key signs about the end of an earlier one. `from`: the first day on which it no longer seals
// anything that counts; `why` in hexadecimal, so that it is one word.
std::string ending(const std::string& kind, const std::string& key_id, const std::string& day,
                   const std::string& why_hex, const std::string& by) {
    return "tipwright key end 1\n" + kind + " " + key_id + " " + day + " " + why_hex + "\nby " + by + "\n";
}

std::string list_path(const std::string& folder) {
    return folder + "/" + std::string(public_keys_name);
}

std::string line_of(const PublicKey& key) {
    return "key " + key.id + " " + to_hex(view(key.bytes)) + " made " + key.made_on;
}

Outcome no_keys_yet(const std::string& folder) {
    const Result<std::string> list = read_file(list_path(folder), max_list_bytes);
    if (list) return Fault{FaultCode::duplicate, "there are keys already", folder, "rotate them instead"};
    return list.fault().code == FaultCode::file_missing ? Outcome(Done{}) : Outcome(list.fault());
}

// Held from before the list is read until it is written again: of two that change it at once none is lost,
// and none is signed by a key that the other has just replaced.
Result<FileLock> lock_list(const std::string& folder) {
    if (Outcome closed = check_folder_is_private(folder); !closed) return closed.fault();
    return FileLock::wait_for(list_path(folder) + ".lock");
}

// Under the lock.
Outcome append_to_list(const std::string& folder, const std::string& line) {
    std::string text = std::string(list_heading) + newest_list.text() + "\n";
    Result<std::string> before = read_file(list_path(folder), max_list_bytes);
    if (!before && before.fault().code != FaultCode::file_missing) return before.fault();
    if (before) text = std::move(*before);
    text += line + "\n";
    // Never one that nobody could read.
    if (const auto keys = PublicKeys::parse(text, list_path(folder)); !keys) return keys.fault();
    return write_file(list_path(folder), text, 0644);
}

}  // namespace

Result<PublicKeys> PublicKeys::parse(std::string_view text, const std::string& name) {
    LineReader lines(text, name);
    if (!lines.next() || !lines.line().starts_with(list_heading))
        return lines.fault(FaultCode::syntax, "not a list of public keys: the first line must be \"" +
                                                  std::string(list_heading) + newest_list.text() + "\"");
    const auto version = readable_version(lines.line().substr(list_heading.size()), newest_list,
                                          "list of public keys", name + ":1");
    if (!version) return version.fault();
    PublicKeys out;
    while (lines.next()) {
        const std::vector<std::string> words = lines.words();
        if (words[0] == "retired" || words[0] == "revoked") {
            if (Outcome ended = out.take_end(words); !ended)
                return lines.fault(ended.fault().code, ended.fault().what);
            continue;
        }
        const bool first = out.keys_.empty();
        if (words.size() != (first ? 5U : 9U) || words[0] != "key" || words[3] != "made" ||
            !is_iso_date(words[4]) || (!first && (words[5] != "after" || words[7] != "signed")))
            return lines.fault(
                FaultCode::syntax,
                "expected " + std::string(first ? "\"key ID HEX made DATE\""
                                                : "\"key ID HEX made DATE after ID signed HEX\""));
        PublicKey key;
        const auto bytes = from_hex(words[2]);
        if (!bytes || bytes->size() != key.bytes.size())
            return lines.fault(FaultCode::damaged, "the key is not 64 hex digits");
        std::memcpy(key.bytes.data(), bytes->data(), bytes->size());
        key.id = words[1];
        key.made_on = words[4];
        if (key.id != id_of(key.bytes))
            return lines.fault(FaultCode::damaged, "the key does not belong to its id " + in_quotes(key.id));
        if (out.find(key.id) != nullptr)
            return lines.fault(FaultCode::duplicate, "key " + key.id + " stands here twice");
        if (!first) {
            PublicKey& before = out.keys_.back();
            key.vouched_by = words[6];
            const auto signature = from_hex(words[8]);
            SignatureBytes given{};
            if (signature && signature->size() == given.size())
                std::memcpy(given.data(), signature->data(), given.size());
            if (key.vouched_by != before.id || !verify(before, vouching(key), given))
                return lines.fault(FaultCode::damaged,
                                   "key " + key.id + " is not vouched for by the key before it");
            before.retired_on = key.made_on;
        }
        out.keys_.push_back(key);
    }
    if (out.keys_.empty()) return lines.fault(FaultCode::damaged, "the list holds no key");
    return out;
}

// "retired ID DATE by ID signed HEX", "revoked ID DATE HEX-OF-WHY by ID signed HEX"
Outcome PublicKeys::take_end(const std::vector<std::string>& words) {
    const bool revoked = words[0] == "revoked";
    const std::size_t by = revoked ? 4 : 3;
    if (words.size() != by + 4 || words[by] != "by" || words[by + 2] != "signed" || !is_iso_date(words[2]))
        return Fault{FaultCode::syntax,
                     revoked ? "expected \"revoked ID DATE HEX by ID signed HEX\""
                             : "expected \"retired ID DATE by ID signed HEX\"",
                     "", ""};
    const auto place =
        std::find_if(keys_.begin(), keys_.end(), [&](const PublicKey& key) { return key.id == words[1]; });
    const auto signer =
        std::find_if(place, keys_.end(), [&](const PublicKey& key) { return key.id == words[by + 1]; });
    if (place == keys_.end() || signer == keys_.end() || signer == place)
        return Fault{FaultCode::damaged,
                     "the end of key " + in_quotes(words[1]) + " is not signed by a key after it", "", ""};
    const auto signature = from_hex(words[by + 3]);
    const auto why = revoked ? from_hex(words[3]) : std::optional<std::string>("");
    SignatureBytes given{};
    if (signature && signature->size() == given.size())
        std::memcpy(given.data(), signature->data(), given.size());
    if (!why || !verify(*signer,
                        ending(words[0], words[1], words[2], revoked ? words[3] : "-", words[by + 1]), given))
        return Fault{FaultCode::damaged, "the end of key " + words[1] + " was changed or made up", "", ""};
    // A key that was itself revoked by then ends no other.
    if (!signer->revoked_from.empty() && signer->revoked_from <= words[2])
        return Fault{FaultCode::damaged,
                     "the end of key " + words[1] + " is signed by a key that was revoked", "", ""};
    if (revoked) {
        if (place->revoked_from.empty() || words[2] < place->revoked_from) {
            place->revoked_from = words[2];
            place->revoked_why = *why;
        }
    } else if (words[2] != place->retired_on) {
        return Fault{FaultCode::damaged,
                     "key " + words[1] + " retired on " + place->retired_on + " by its successor", "", ""};
    }
    return Done{};
}

Result<PublicKeys> PublicKeys::read(const std::string& path) {
    Result<std::string> text = read_file(path, max_list_bytes);
    if (!text) return text.fault();
    return parse(*text, path);
}

const PublicKey* PublicKeys::find(std::string_view id) const {
    for (const PublicKey& key : keys_)
        if (key.id == id) return &key;
    return nullptr;
}

Outcome check_in_use(const PublicKey& key, const std::string& day, const std::string& where) {
    const bool ended = !key.retired_on.empty() || !key.revoked_from.empty();
    if (day.empty() && ended)
        return Fault{FaultCode::inconsistent,
                     "sealed by key " + key.id + ", which has ended (" + validity_of(key) +
                         "), and nothing here tells when it was sealed",
                     where, "give the record or the certificate with it"};
    if (!day.empty() && !key.revoked_from.empty() && day >= key.revoked_from)
        return Fault{FaultCode::inconsistent,
                     "sealed on " + day + " by key " + key.id + ", which is revoked from " +
                         key.revoked_from + ": " + key.revoked_why,
                     where, "do not rely on it; ask the laboratory"};
    if (!day.empty() && (day < key.made_on || (!key.retired_on.empty() && day > key.retired_on)))
        return Fault{
            FaultCode::inconsistent,
            "sealed on " + day + ", when key " + key.id + " was not in use (" + validity_of(key) + ")", where,
            "do not rely on it; ask the laboratory"};
    return Done{};
}

std::string validity_of(const PublicKey& key) {
    return "made " + key.made_on + (key.retired_on.empty() ? "" : ", retired " + key.retired_on) +
           (key.revoked_from.empty() ? "" : ", revoked from " + key.revoked_from);
}

SigningKey SigningKey::from_seed(const std::array<unsigned char, 32>& seed) {
    if (sodium_init() < 0) throw std::runtime_error("libsodium does not start");
    SigningKey key;
    key.secret_ = static_cast<unsigned char*>(sodium_malloc(crypto_sign_SECRETKEYBYTES));
    if (key.secret_ == nullptr) throw std::bad_alloc();
    crypto_sign_seed_keypair(key.public_.bytes.data(), key.secret_, seed.data());
    key.public_.id = id_of(key.public_.bytes);
    return key;
}

SigningKey::~SigningKey() {
    sodium_free(secret_);  // wipes
}

SigningKey::SigningKey(SigningKey&& other) noexcept
    : public_(std::move(other.public_)), secret_(std::exchange(other.secret_, nullptr)) {}

SignatureBytes SigningKey::sign(std::string_view message) const {
    SignatureBytes out{};
    crypto_sign_detached(out.data(), nullptr, reinterpret_cast<const unsigned char*>(message.data()),
                         message.size(), secret_);
    return out;
}

bool verify(const PublicKey& key, std::string_view message, const SignatureBytes& signature) {
    return crypto_sign_verify_detached(signature.data(),
                                       reinterpret_cast<const unsigned char*>(message.data()), message.size(),
                                       key.bytes.data()) == 0;
}

Result<PublicKey> make_keys(const std::string& folder, const Passphrase& passphrase,
                            const std::string& made_on, const PassphraseCost& cost) {
    if (Outcome none = no_keys_yet(folder); !none) return none.fault();
    if (!is_iso_date(made_on))
        return Fault{FaultCode::bad_value, in_quotes(made_on) + " is not a date", "made", ""};
    if (Outcome made = make_folder(folder, 0700); !made) return made.fault();
    const Result<FileLock> lock = lock_list(folder);
    if (!lock) return lock.fault();
    if (Outcome none = no_keys_yet(folder); !none) return none.fault();  // nor made meanwhile
    Result<SigningKey> key = store_new_key(folder, passphrase, made_on, cost);
    if (!key) return key.fault();
    if (Outcome listed = append_to_list(folder, line_of(key->public_key())); !listed) return listed.fault();
    return key->public_key();
}

Result<PublicKey> rotate_keys(const std::string& folder, const Passphrase& old_passphrase,
                              const Passphrase& new_passphrase, const std::string& made_on,
                              const PassphraseCost& cost) {
    const Result<FileLock> lock = lock_list(folder);
    if (!lock) return lock.fault();
    Result<SigningKey> old = unlock_key(folder, old_passphrase);
    if (!old) return old.fault();
    if (!is_iso_date(made_on) || made_on < old->public_key().made_on)
        return Fault{
            FaultCode::bad_value,
            in_quotes(made_on) + " is not a date on or after the old key's, " + old->public_key().made_on,
            "made", "check the clock"};
    Result<SigningKey> made = store_new_key(folder, new_passphrase, made_on, cost);
    if (!made) return made.fault();
    PublicKey key = made->public_key();
    key.vouched_by = old->public_key().id;
    const SignatureBytes signature = old->sign(vouching(key));
    const std::string line = line_of(key) + " after " + key.vouched_by + " signed " + to_hex(view(signature));
    const std::string end = "retired " + key.vouched_by + " " + made_on + " by " + key.id + " signed " +
                            to_hex(view(made->sign(ending("retired", key.vouched_by, made_on, "-", key.id))));
    // Both lines at once: the list never holds a key whose predecessor has no signed end.
    if (Outcome listed = append_to_list(folder, line + "\n" + end); !listed) return listed.fault();
    return key;
}

Outcome revoke_key(const std::string& folder, const std::string& key_id, const Passphrase& passphrase,
                   const std::string& from, const std::string& why) {
    const Result<FileLock> lock = lock_list(folder);
    if (!lock) return lock.fault();
    Result<PublicKeys> keys = PublicKeys::read(list_path(folder));
    if (!keys) return keys.fault();
    const PublicKey* key = keys->find(key_id);
    if (key == nullptr)
        return Fault{FaultCode::unknown_field, "no key " + in_quotes(key_id) + " in the list", folder,
                     "'tipwright keys list' shows them"};
    if (key == &keys->all().back())
        return Fault{FaultCode::not_permitted, "key " + key_id + " is the one in use", folder,
                     "rotate first: its successor signs the revocation"};
    if (!is_iso_date(from) || from < key->made_on)
        return Fault{FaultCode::bad_value,
                     in_quotes(from) + " is no date on or after the day it was made, " + key->made_on,
                     "--from", ""};
    if (why.empty() || why.size() > max_why_bytes || visible(why) != why)
        return Fault{FaultCode::bad_value,
                     "the reason must be one line of up to " + std::to_string(max_why_bytes) + " bytes",
                     "--reason", ""};
    Result<SigningKey> signer = unlock_key(folder, passphrase);
    if (!signer) return signer.fault();
    const std::string& by = signer->public_key().id;
    const std::string why_hex = to_hex(why);
    return append_to_list(folder,
                          "revoked " + key_id + " " + from + " " + why_hex + " by " + by + " signed " +
                              to_hex(view(signer->sign(ending("revoked", key_id, from, why_hex, by)))));
}

Result<SigningKey> unlock_key(const std::string& folder, const Passphrase& passphrase) {
    Result<PublicKeys> keys = PublicKeys::read(list_path(folder));
    if (!keys) return keys.fault();
    return unlock(folder, keys->all().back().id, passphrase);
}

}  // namespace tipwright::seal
