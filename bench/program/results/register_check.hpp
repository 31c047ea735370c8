// A register as a laboratory hands it over, checked by the public keys alone; certificates given with it must
// be those that it holds.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::program {

struct IssuedFile {
    std::string file;
    std::string number;
};

// For the closing sentence; empty: nothing.
struct RegisterProof {
    std::string proved;
    std::string open;  // what it cannot prove
};

// `place`: folder or connection string. `add` is told of each finding. Faults: missing_field (no keys), those
// of opening and inspecting; damage is a finding.
Result<RegisterProof> check_register(
    const std::string& place, const seal::PublicKeys* keys, const std::vector<IssuedFile>& certificates,
    const std::function<void(const std::string& file, bool ok, const std::string& text)>& add);

}  // namespace tipwright::program
