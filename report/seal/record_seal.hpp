// The seal of a certificate's record as plain values, apart from keys and certificates: report/seal/seal.hpp
// makes and checks it.
#pragma once

#include <string>

namespace tipwright::seal {

struct Seal {
    std::string number;
    std::string fingerprint;  // 64 hex digits
    std::string key_id;
    std::string signature;  // 128 hex digits
    std::string issued_on;  // ISO date
    friend bool operator==(const Seal&, const Seal&) = default;
};

}  // namespace tipwright::seal
