#include "report/seal/keys.hpp"

#include <sodium.h>

#include <algorithm>
#include <cstring>
#include <stdexcept>

#include "report/seal/digest.hpp"
#include "report/files/durable_file.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/key_file.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::seal {
namespace {

constexpr std::size_t max_list_bytes = 1 << 20;
constexpr std::string_view list_heading = "tipwright public keys 1";

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

std::string list_path(const std::string& folder) {
    return folder + "/" + std::string(public_keys_name);
}

std::string line_of(const PublicKey& key) {
    return "key " + key.id + " " + to_hex(view(key.bytes)) + " made " + key.made_on;
}

Outcome append_to_list(const std::string& folder, const std::string& line) {
    std::string text = std::string(list_heading) + "\n";
    if (Result<std::string> before = read_whole(list_path(folder), max_list_bytes)) text = *before;
    return write_durably(list_path(folder), text + line + "\n", 0644);
}

}  // namespace

Result<PublicKeys> PublicKeys::parse(std::string_view text, const std::string& name) {
    LineReader lines(text, name);
    if (!lines.next() || lines.line() != list_heading)
        return lines.fault(FaultCode::syntax, "not a list of public keys: the first line must be \"" +
                                                  std::string(list_heading) + "\"");
    PublicKeys out;
    while (lines.next()) {
        const std::vector<std::string> words = lines.words();
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

Result<PublicKeys> PublicKeys::read(const std::string& path) {
    Result<std::string> text = read_whole(path, max_list_bytes);
    if (!text) return text.fault();
    return parse(*text, path);
}

const PublicKey* PublicKeys::find(std::string_view id) const {
    for (const PublicKey& key : keys_)
        if (key.id == id) return &key;
    return nullptr;
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
    if (read_whole(list_path(folder), max_list_bytes))
        return Fault{FaultCode::duplicate, "there are keys already", folder, "rotate them instead"};
    if (!is_iso_date(made_on))
        return Fault{FaultCode::bad_value, in_quotes(made_on) + " is no date", "made", ""};
    if (Outcome made = make_folder(folder, 0700); !made) return made.fault();
    Result<PublicKey> key = store_new_key(folder, passphrase, made_on, cost);
    if (!key) return key;
    if (Outcome listed = append_to_list(folder, line_of(*key)); !listed) return listed.fault();
    return key;
}

Result<PublicKey> rotate_keys(const std::string& folder, const Passphrase& old_passphrase,
                              const Passphrase& new_passphrase, const std::string& made_on,
                              const PassphraseCost& cost) {
    Result<SigningKey> old = unlock_key(folder, old_passphrase);
    if (!old) return old.fault();
    if (!is_iso_date(made_on) || made_on < old->public_key().made_on)
        return Fault{
            FaultCode::bad_value,
            in_quotes(made_on) + " is no date on or after the old key's, " + old->public_key().made_on,
            "made", "check the clock"};
    Result<PublicKey> key = store_new_key(folder, new_passphrase, made_on, cost);
    if (!key) return key;
    key->vouched_by = old->public_key().id;
    const SignatureBytes signature = old->sign(vouching(*key));
    const std::string line =
        line_of(*key) + " after " + key->vouched_by + " signed " + to_hex(view(signature));
    if (Outcome listed = append_to_list(folder, line); !listed) return listed.fault();
    return key;
}

Result<SigningKey> unlock_key(const std::string& folder, const Passphrase& passphrase) {
    Result<PublicKeys> keys = PublicKeys::read(list_path(folder));
    if (!keys) return keys.fault();
    return unlock(folder, keys->all().back().id, passphrase);
}

}  // namespace tipwright::seal
