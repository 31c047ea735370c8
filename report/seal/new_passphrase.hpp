// What a passphrase must be that somebody sets, for a key or for logging in: 8 to 1024 bytes, and none of
// those that are tried first.
#pragma once

#include "calib/base/fault.hpp"
#include "report/seal/passphrase.hpp"

namespace tipwright::seal {

// `names`: of who sets it and of the laboratory. Fault: bad_value.
Outcome check_new_passphrase(const Passphrase& passphrase, const std::vector<std::string>& names = {});

}  // namespace tipwright::seal
