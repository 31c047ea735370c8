// The laboratory's X.509 certificate in the folder of its keys, beside the Ed25519 key and under the same
// passphrase: signing.p12 (0600) and signing-certificate.pem for who is to trust it.
#pragma once

#include "bench/program/register/passphrase.hpp"
#include "report/seal/x509.hpp"

namespace tipwright::program {

// Nothing when the folder has none.
Result<std::optional<seal::X509Key>> open_signing_certificate(const std::filesystem::path& folder,
                                                              const seal::Passphrase& passphrase);
// Under a new passphrase.
Outcome store_signing_certificate(const std::filesystem::path& folder, const seal::X509Key& key,
                                  const seal::Passphrase& passphrase);

}  // namespace tipwright::program
