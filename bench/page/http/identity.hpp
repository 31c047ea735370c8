// Identity: the certificate and the private key by which this page is known over TLS: given as PEM, or made
// here (P-256, self-signed, RFC 5280), so that whoever pairs a device compares the fingerprint that the
// terminal shows.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::page {

struct Identity {
    std::string certificate_pem;  // with the certificates above it, where there are any
    std::string key_pem;          // without a passphrase
};

// `names`: host names and addresses it is served under. Valid from a day before `today` (ISO date) for
// identity_days. Faults: bad_value, not_permitted (no random numbers).
inline constexpr int identity_days = 800;
Result<Identity> make_identity(const std::vector<std::string>& names, const std::string& today);

// "A1:B2:...", SHA-256 of the first certificate. Faults: damaged.
Result<std::string> fingerprint_of(const Identity& identity);
// Faults: not_permitted outside its validity, inconsistent (another key's certificate), damaged. `where`: its
// file.
Outcome check_identity(const Identity& identity, const std::string& today, const std::string& where);

}  // namespace tipwright::page
