// One secret key in its file, locked by a passphrase. Part of keys.hpp, kept apart for its size.
//   tipwright secret key 1.0
//   public HEX
//   argon2id PASSES MEMORY_BYTES
//   salt HEX
//   nonce HEX
//   box HEX            seed, XSalsa20-Poly1305 under the key that Argon2id makes of the passphrase
#pragma once

#include "report/seal/keys.hpp"

namespace tipwright::seal {

std::string key_path(const std::string& folder, const std::string& key_id);
// A fresh key, written before anything names it.
Result<SigningKey> store_new_key(const std::string& folder, const Passphrase& passphrase,
                                 const std::string& made_on, const PassphraseCost& cost);
// Fault not_permitted: others than its owner get into the folder of the keys.
Outcome check_folder_is_private(const std::string& folder);

}  // namespace tipwright::seal
