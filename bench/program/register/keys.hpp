// Keys of the seal: make, list, rotate, revoke, hand out the public ones, change the passphrase.
#pragma once

#include "bench/program/register/passphrase.hpp"
#include "bench/program/register/session.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::program {

std::filesystem::path keys_folder(const std::filesystem::path& given);
// Where it is noted which numbers were given.
std::filesystem::path issued_numbers_file(const std::filesystem::path& folder);

}  // namespace tipwright::program
