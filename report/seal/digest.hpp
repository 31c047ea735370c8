// SHA-256 (FIPS 180-4) of several pieces and of a file, beside report/files/fingerprint.hpp; by libcrypto.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/files/fingerprint.hpp"

namespace tipwright::seal {

class Sha256 {
public:
    Sha256();
    ~Sha256();
    Sha256(const Sha256&) = delete;
    Sha256& operator=(const Sha256&) = delete;
    void add(std::string_view bytes);
    std::string bytes();  // 32 bytes; the object is used up

private:
    struct State;
    std::unique_ptr<State> state_;
};

using report::sha256_hex;
// Reads in pieces, so memory stays flat. Fault: file_missing, file_unreadable.
Result<std::string> sha256_hex_of_file(const std::string& path);

}  // namespace tipwright::seal
