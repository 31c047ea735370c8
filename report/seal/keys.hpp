// Keys of the laboratory's seal: Ed25519 (RFC 8032), by libsodium.
// A key folder (0700) holds one file a secret key (<id>.key, 0600, opened only by a passphrase: Argon2id and
// XSalsa20-Poly1305) and public-keys.txt, which is given to whoever is to check certificates. The last key of
// that list signs; the ones before it stay, so old certificates verify after a rotation, and each key is
// vouched for by the one before it. The end of a key's time is signed by a key after it: when it retires, or
// earlier when it is revoked because others may have it. Dates are ISO dates, given by the caller. Faults:
// wrong_passphrase, not_permitted (file permissions), damaged, file_missing, unsupported_version, ...
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/seal/passphrase.hpp"

namespace tipwright::seal {

inline constexpr std::size_t min_passphrase_bytes = 8;
inline constexpr std::size_t max_passphrase_bytes = 1024;
inline constexpr std::string_view public_keys_name = "public-keys.txt";

using SignatureBytes = std::array<unsigned char, 64>;

struct PublicKey {
    std::string id;  // first 16 hex digits of SHA-256 of the key
    std::array<unsigned char, 32> bytes{};
    std::string made_on;
    std::string retired_on;    // date of its successor; empty: in use. The last day on which it seals
    std::string vouched_by;    // id of the key before it; empty: the first
    std::string revoked_from;  // first day from which nothing that it sealed counts; empty: not revoked
    std::string revoked_why;
};

// The key was in use on that day. Fault inconsistent: it was not, or the day is empty and the key has ended.
Outcome check_in_use(const PublicKey& key, const std::string& day, const std::string& where);
// "made 2031-05-04, retired 2032-01-01"
std::string validity_of(const PublicKey& key);

class PublicKeys {
public:
    // `name` for messages. Every vouching signature is checked. Fault: syntax, damaged, unsupported_version.
    static Result<PublicKeys> parse(std::string_view text, const std::string& name);
    static Result<PublicKeys> read(const std::string& path);
    const std::vector<PublicKey>& all() const { return keys_; }  // oldest first, at least one
    const PublicKey* find(std::string_view id) const;

private:
    Outcome take_end(const std::vector<std::string>& words);
    std::vector<PublicKey> keys_;
};

// Cost of one guess of the passphrase (Argon2id passes, bytes of memory). Kept in the key's file.
struct PassphraseCost {
    std::uint64_t passes = 3;
    std::uint64_t memory_bytes = std::uint64_t{128} << 20;
};

// A secret key in memory that is locked where the system allows, and wiped when it goes.
class SigningKey {
public:
    static SigningKey from_seed(const std::array<unsigned char, 32>& seed);
    ~SigningKey();
    SigningKey(SigningKey&& other) noexcept;
    SigningKey& operator=(SigningKey&&) = delete;

    const PublicKey& public_key() const { return public_; }
    SignatureBytes sign(std::string_view message) const;

private:
    SigningKey() = default;
    PublicKey public_;
    unsigned char* secret_ = nullptr;
    friend Result<SigningKey> unlock(const std::string&, const std::string&, const Passphrase&);
    friend Result<SigningKey> store_new_key(const std::string&, const Passphrase&, const std::string&,
                                            const PassphraseCost&);
};

bool verify(const PublicKey& key, std::string_view message, const SignatureBytes& signature);

// First key of a new folder. Fault: duplicate (there are keys), bad_value (passphrase too short or easily
// guessed), not_permitted (others get into the folder).
Result<PublicKey> make_keys(const std::string& folder, const Passphrase& passphrase,
                            const std::string& made_on, const PassphraseCost& cost = {});
// A new key, vouched for by the one in use, which retires.
Result<PublicKey> rotate_keys(const std::string& folder, const Passphrase& old_passphrase,
                              const Passphrase& new_passphrase, const std::string& made_on,
                              const PassphraseCost& cost = {});
// A key that others may have: nothing counts that it sealed on `from` or later. Signed by the key in use, so
// a key in use is rotated first. `why`: one line. The list, given out anew, carries it. Fault: not_permitted,
// bad_value, ...
Outcome revoke_key(const std::string& folder, const std::string& key_id, const Passphrase& passphrase,
                   const std::string& from, const std::string& why);
Outcome change_passphrase(const std::string& folder, const Passphrase& old_passphrase,
                          const Passphrase& new_passphrase, const PassphraseCost& cost = {});
// The key in use. Fault: wrong_passphrase, not_permitted when others may read the key's file.
Result<SigningKey> unlock_key(const std::string& folder, const Passphrase& passphrase);
Result<SigningKey> unlock(const std::string& folder, const std::string& key_id, const Passphrase& passphrase);

}  // namespace tipwright::seal
