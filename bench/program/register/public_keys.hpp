// The laboratory's public keys, to check seals with.
#pragma once

#include <filesystem>
#include <optional>

#include "report/seal/keys.hpp"

namespace tipwright::program {

// A file, or a folder of keys; empty: what TIPWRIGHT_KEYS names, else the user's own, when there are any.
Result<std::optional<seal::PublicKeys>> find_public_keys(const std::filesystem::path& given);

}  // namespace tipwright::program
