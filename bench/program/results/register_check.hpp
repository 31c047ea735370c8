// A register as a laboratory hands it over, checked by the public keys alone; the files of certificates given
// with it must be those that it holds.
#pragma once

#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::program {

struct IssuedFile {
    std::string file;
    std::string number;
    std::string sha256;    // of its bytes; of a seal the fingerprint that it seals
    bool is_seal = false;  // by itself, or a square code
};

// For the closing sentence; empty: nothing.
struct RegisterProof {
    std::string proved;
    std::string open;             // what it cannot prove
    std::set<std::string> holds;  // names of the files given that it holds
    std::string sealed_on;        // ISO date of its last good seal; empty: nothing is proved
    // Of the certificates given: number, and that of the one that replaced it or those that amend it.
    std::map<std::string, std::string> replaced;
    std::map<std::string, std::vector<std::string>> amended;
};

// `place`: folder or connection string. `add` is told of each finding. Faults: missing_field (no keys), those
// of opening and inspecting; damage is a finding.
Result<RegisterProof> check_register(
    const std::string& place, const seal::PublicKeys* keys, const std::vector<IssuedFile>& files,
    const std::function<void(const std::string& file, bool ok, const std::string& text)>& add);

}  // namespace tipwright::program
